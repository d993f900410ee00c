"""The work of a job on the page, through its forms as a browser without script sends them."""

import io
import re
import threading
import time
import zipfile

import lxml.html
import pytest
import screen_words as words
from page_server import Client, running, until

from geartrack.datafiles import data_path
from geartrack.job import read_job
from geartrack.web.render import HERE

SCAN = data_path("cases/larch-scan.stl")
TEMPLATES = sorted((HERE / "templates").glob("*.html"))


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    with running(tmp_path_factory.mktemp("page")) as page, Client(page) as found:
        yield found


def read(answer):
    assert answer.status_code == 200, answer.text[-400:]
    return lxml.html.fromstring(answer.text)


def said(tree, path):
    return " ".join(" ".join(tree.xpath(f"{path}//text()")).split())


def change(client, path, **fields):
    answer = client.post(path, **{**client.form(path), **fields})
    assert answer.status_code == 303, answer.text[-400:]
    return read(client.http.get(path))


def verdict(tree):
    return said(tree, '//p[contains(@class, "verdict")]')


def bring(client, path, file, **fields):
    data = {"token": client.token, "revision": str(client.revision(path)), **fields}
    return client.http.post(f"{path}/scan", data=data, files={"file": file})


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.stem)
def test_templates_use_the_trade_words(template):
    text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}|<[^>]+>", " ", template.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert words.forbidden(text) == []
    assert [word for word in words.promises(text) if not word.startswith("pass")] == []  # a pass of the burr is one


@pytest.mark.parametrize(("name", "count"), [("phone", 4), ("old-gears", 11), ("bare-case", 16)])
def test_a_card_has_its_counted_entries_each_labelled(client, name, count):
    tree = read(client.http.get(f"/card/{name}"))
    fields = tree.xpath('//div[@class="entry"]/input')
    assert len(fields) == count
    assert all(tree.xpath(f'//label[@for="{field.get("id")}"]') for field in fields)
    assert f"{count} entries" in said(read(client.http.get("/")), f'//section[contains(@class, "card-{name}")]')


def test_what_a_card_leaves_to_come_is_said_in_words(client):
    tree = read(client.post("/card/phone", axle="9 in, pilot", ratio_wanted="7/36"))
    text = said(tree, '//section[@id="answer"]')
    assert "Still to come: " in text
    assert not re.search(r"(axle|gears|boss)\.\w", text)


def test_a_card_answers_and_goes_on_as_a_job(client):
    typed = {"axle": "9 in; 2.25 in", "old_teeth": "9/35", "new_teeth": "7/36", "gap": "0.240 in solder"}
    tree = read(client.post("/card/old-gears", **typed))
    assert verdict(tree)
    slip = read(client.post("/card/old-gears", **{**typed, "backlash": "8"}))
    assert "not likely" in said(slip, '//span[@id="note-backlash"]')
    taken = client.post("/card/old-gears/job", **typed)
    assert taken.status_code == 303
    assert client.form(taken.headers["location"])["gears.teeth"] == "7/36"


def test_opening_and_answering_a_job_changes_nothing_in_it(client):
    path = client.demo()
    first = client.revision(path)
    change(client, path)
    assert client.revision(path) == first


def test_a_value_is_typed_as_the_bench_types_it_and_its_fault_stands_beside_it(client):
    path = client.demo()
    tree = change(client, path, **{"target.gap": "30 thou"})
    assert "wanted 0.030 in" in said(tree, '//p[@class="sentence"]')
    wrong = change(client, path, **{"boss.bore_depth": "20 furlongs", "axle.offset": "-1 mm"})
    assert "furlongs" in said(wrong, '//span[@id="note-boss--bore_depth"]')
    assert said(wrong, '//span[@id="note-axle--offset"]')
    assert verdict(wrong) == "NOT YET WORKED OUT"
    assert client.form(path)["boss.bore_depth"] == "20 furlongs"


def test_every_value_says_where_it_comes_from(client):
    tree = read(client.http.get(client.demo()))
    origins = {said(tree, f'//span[@id="note-{key}"]').split()[0] for key in ("boss--end_face", "gears--pinion_spiral")}
    assert origins == {"measured", "published"}
    assert said(tree, '//span[@id="note-running--runout"]').startswith("default")


def test_undo_and_redo_go_through_every_state(client):
    path = client.demo()
    for mark in ("one", "two"):
        change(client, path, **{"case.mark": mark})
    seen = []
    for step in ("undo", "undo", "redo", "redo"):
        client.post(f"{path}/{step}", revision=str(client.revision(path)))
        seen.append(client.form(path)["case.mark"])
    assert seen == ["one", "F-1207", "one", "two"]


def test_any_state_may_be_gone_back_to_and_that_taken_back(client):
    path = client.demo()
    for mark in ("one", "two", "three"):
        change(client, path, **{"case.mark": mark})
    listed = read(client.http.get(f"{path}/history")).xpath('//button[@name="state"]/@value')
    assert listed == ["3", "2", "1"]
    answer = client.post(f"{path}/back", state="2", revision="4")
    assert answer.status_code == 303
    assert (client.form(path)["case.mark"], client.revision(path)) == ("one", 5)
    client.post(f"{path}/undo", revision="5")
    assert client.form(path)["case.mark"] == "three"
    assert client.post(f"{path}/back", state="99", revision="4").status_code == 422
    assert client.post(f"{path}/back", state="1", revision="3").status_code == 409


def test_undo_goes_back_by_words_not_by_letters(client):
    path = client.demo()
    for text in ("4", "40", "40 thou"):  # as they are sent while somebody types, slowly
        form = client.form(path)
        client.post(path, live=True, **{**form, "target.gap": text})
    client.post(f"{path}/undo", revision=str(client.revision(path)))
    assert client.form(path)["target.gap"] == "0.020 in"
    client.post(f"{path}/redo", revision=str(client.revision(path)))
    assert client.form(path)["target.gap"] == "40 thou"


def test_parts_and_readings_are_added_and_taken_away(client):
    path = client.demo()
    form = client.form(path)
    count = sum(name.endswith(".kind") and name.startswith("boss.parts") for name in form)
    change(client, path, act="add boss.parts pad")
    assert client.form(path)[f"boss.parts.{count}.kind"] == "pad"
    change(client, path, act=f"drop boss.parts {count}")
    assert f"boss.parts.{count}.kind" not in client.form(path)
    change(client, path, act="add readings gap")
    tree = change(client, path, **{"readings.0.gap": "0.031 in", "readings.0.gap~how": "feeler"})
    assert verdict(tree) != "NOT YET WORKED OUT", said(tree, '//span[@class="fault"]')


def test_the_customers_answers_reach_the_quote_and_the_job(client):
    path = client.demo()
    before = said(read(client.http.get(f"{path}/quote")), "//main")
    change(client, path, **{"shop.if_found.late": "call me"})
    assert client.form(path)["shop.if_found.late"] == "call me"
    after = said(read(client.http.get(f"{path}/quote")), "//main")
    assert after.count("call me") > before.count("call me")


def test_the_old_set_and_the_support_log_have_fields(client):
    path = client.demo()
    fields = {"old_gears.teeth": "9/35", "old_gears.face_width": "37 mm", "setup.bearings": "used"}
    tree = change(client, path, **fields)
    assert {name: client.form(path)[name] for name in fields} == fields
    assert verdict(tree) != "NOT YET WORKED OUT", said(tree, '//span[@class="fault"]')
    wrong = change(client, path, **{"old_gears.face_width": "37 furlongs"})
    assert "furlongs" in said(wrong, '//span[@id="note-old_gears--face_width"]')


def test_gaps_read_after_passes_plan_the_rest_and_are_kept(client, tmp_path):
    path = client.demo()
    before = said(read(client.http.get(f"{path}/passes")), "//tbody")
    assert "made" not in before
    answer = client.post(f"{path}/passes", revision="1", now_at="0.012 in")
    assert answer.headers["location"] == f"{path}#passes"
    tree = read(client.http.get(f"{path}/passes"))
    assert tree.xpath('//input[@name="now_at"]/@value')[0] == "0.012 in"
    assert "1 made" in said(tree, "//tbody")
    change(client, path, **{"case.mark": "later"})
    assert "1 made" in said(read(client.http.get(f"{path}/passes")), "//tbody")
    with zipfile.ZipFile(io.BytesIO(client.http.get(f"{path}/files/job.zip").content)) as taken:
        taken.extractall(tmp_path)
    assert read_job(tmp_path / "job.toml").case.mark == "later"  # the page's own key is not in it
    client.post(f"{path}/passes", revision="3", now_at="0.012 furlongs")
    wrong = read(client.http.get(f"{path}/passes"))
    assert "furlongs" in said(wrong, '//p[@class="fault"]')
    assert wrong.xpath('//input[@name="now_at"]/@value') == ["0.012 furlongs"]


def test_another_pair_is_tried_and_taken_back(client):
    path = client.demo()
    answer = client.post(f"{path}/pair", teeth="9/35", revision=str(client.revision(path)))
    assert answer.status_code == 303
    assert client.form(path)["gears.teeth"] == "9/35"
    assert client.form(path)["gears.measured.toe_height"] == ""
    client.post(f"{path}/undo", revision=str(client.revision(path)))
    assert client.form(path)["gears.measured.toe_height"]


def test_drawings_files_and_tables_are_there(client):
    path = client.demo()
    revision = client.revision(path)
    for name in ("near", "side", "end", "glance", "ratios"):
        answer = client.http.get(f"{path}/{revision}/{name}.svg")
        assert answer.headers["content-type"].startswith("image/svg+xml")
        assert b"<desc>" in answer.content
    assert client.http.get(f"{path}/{revision}/nothing.svg").status_code == 422
    assert "7/36" in said(read(client.http.get(f"{path}/ratios")), "//table")
    assert "Total" in said(read(client.http.get(f"{path}/quote")), "//table")
    assert said(read(client.http.get(f"{path}/passes")), "//table")
    for link in read(client.http.get(f"{path}/files")).xpath('//ul[@class="takeaway"]//a/@href'):
        answer = client.http.get(link)
        assert answer.status_code == 200, (link, answer.text[-300:])
        starts = {"pdf": b"%PDF", "zip": b"PK", "svg": b"<?xml", "json": b"{"}.get(link.rpartition(".")[2], b"")
        assert answer.content.startswith(starts), link


def test_a_job_taken_away_reads_back_as_it_was(client, tmp_path):
    path = client.demo()
    with zipfile.ZipFile(io.BytesIO(client.http.get(f"{path}/files/job.zip").content)) as archive:
        archive.extractall(tmp_path)
    again, first = read_job(tmp_path / "job.toml"), read_job(data_path("jobs/grind.toml"))
    assert (again.axle, again.boss, again.gears.measured) == (first.axle, first.boss, first.gears.measured)
    files = {"files": ("job.toml", (tmp_path / "job.toml").read_bytes())}
    answer = client.http.post("/open", data={"token": client.token}, files=files)
    assert client.form(answer.headers["location"]) == {
        **client.form(path),
        "revision": "1",
        "token": client.token,
    }


def test_a_job_is_opened_with_the_files_it_names_whatever_their_folders(client):
    names = ("jobs/grind-by-readings.toml", "axles/larch-240.toml", "gears/larch-514.toml", "shop.toml")
    names += ("cases/larch-by-readings.toml", "cases/larch-readings.csv")
    files = [("files", (name.rpartition("/")[2].upper(), data_path(name).read_bytes())) for name in names]
    answer = client.http.post("/open", data={"token": client.token}, files=files)
    assert answer.status_code == 303, answer.text[-600:]
    assert verdict(read(client.http.get(answer.headers["location"]))) != "NOT YET WORKED OUT"
    without = client.http.post("/open", data={"token": client.token}, files=files[:-1])
    assert without.status_code == 422
    assert "larch-readings.csv" in without.text


def test_a_scan_is_looked_at_then_used(client):
    path = client.demo()
    with SCAN.open("rb") as file:
        brought = bring(client, path, ("..\\Larch SCAN.stl", file))
    place = brought.headers["location"]
    assert "Larch" not in place
    here, _, query = place.partition("?")
    shown = read(client.http.get(f"{here}/look?{query}"))
    assert "triangles" in said(shown, '//*[@role="status"]')
    assert "Pilot bore" in said(shown, "//ul")
    used = client.http.post(f"{here}/use?{query}", data={"token": client.token, "revision": str(client.revision(path))})
    assert used.status_code == 303, used.text[-300:]
    tree = read(client.http.get(path))
    assert "a scan" in said(tree, '//fieldset[contains(@class, "group-boss")]')
    assert verdict(tree) != "NOT YET WORKED OUT"


def test_looking_at_a_scan_can_be_stopped(client):
    path, answers = client.demo(), []
    with SCAN.open("rb") as file:
        here, _, query = bring(client, path, ("s.stl", file)).headers["location"].partition("?")
    looking = threading.Thread(target=lambda: answers.append(client.http.get(f"{here}/look?{query}").status_code))
    looking.start()
    until(lambda: "step" in client.http.get(f"{here}/progress").text)
    assert client.post(f"{here}/stop").status_code == 303
    looking.join()
    assert answers == [204]
    assert read(client.http.get(f"{here}/look?{query}")) is not None  # the worker is back


def test_a_fault_in_a_table_names_it_as_it_was_brought(client):
    path = client.demo()
    bring(client, path, ("My Readings.csv", io.BytesIO(b"station,0,90\n0 mm,far,27 mm\n")))
    text = said(read(client.http.get(path)), '//ul[@id="other-faults"]')
    assert "my readings.csv" in text
    assert not re.search(r"[0-9a-f]{32}", text)


def test_the_book_keeps_what_becomes_of_a_job(client):
    path = client.demo()
    number = client.post(f"{path}/book", customer="jd", **{"as": "new"}).headers["location"]
    for step, fields in (
        ("state", {"state": "sent"}),
        ("state", {"state": "accepted"}),
        ("read", {"value": "0.012 in", "tool": "feeler", "by": "ab"}),
        ("outcome", {"gap_after": "0.022 in", "mass": "3 g"}),
    ):
        assert client.post(f"{number}/{step}", **fields).status_code == 303
    text = said(read(client.http.get(number)), "//main")
    assert "accepted" in text
    assert "0.012 in" in text
    assert client.post(f"{number}/state", state="draft").status_code == 422
    client.post(f"{number}/undo", entry="5")
    assert "taken back by" in said(read(client.http.get(number)), "//main")
    assert client.http.get("/book", params={"words": "hill-climb"}).text.count('href="/book/') >= 1
    assert "No job holds" in client.http.get("/book", params={"words": "no such words"}).text
    again = client.post(f"{number}/take", **{"as": "revision"}).headers["location"]
    assert client.form(again)["gears.teeth"] == "7/36"
    revised = client.post(f"{again}/book", **{"as": "revision"}).headers["location"]
    assert revised == number
    other = client.post(f"{client.demo()}/book", **{"as": "new"}).headers["location"]
    numbers = [place.rpartition("/")[2] for place in (number, other)]
    assert "Side by side" in client.http.get("/book/compare", params={"job": numbers}).text
    assert client.post(f"{path}/book", customer="A Long Name", **{"as": "new"}).status_code == 422


def test_the_page_answers_soon_after_a_late_reader(client):
    """A change overtakes the draws of the state before: the older task is stopped, the newer one is answered."""
    path, answers = client.demo(), []
    old = threading.Thread(target=lambda: answers.append(client.http.get(f"{path}/sure").status_code))
    old.start()
    time.sleep(0.3)
    change(client, path, **{"case.mark": "newer"})
    old.join()
    assert answers[0] in (200, 204)
    assert client.http.get(f"{path}/sure").status_code == 200


@pytest.mark.parametrize("query", ["", "?draws=1"])
def test_a_drawing_says_the_same_stop_as_the_answer_beside_it(client, query):
    """The straight sum and the draws have two STOPs; a drawing kept by the browser must not show the other's."""
    path = client.demo()
    tree = read(client.http.get(f"{path}{query}"))
    (stop,) = re.findall(r"STOP at (\S+ in)", said(tree, '//p[@class="sentence"]'))
    (drawing,) = tree.xpath('//figure[@class="figure-end"]/img/@src')
    assert f"<!-- STOP at {stop} -->" in client.http.get(drawing).text
    other = said(read(client.http.get(f"{path}{'' if query else '?draws=1'}")), '//p[@class="sentence"]')
    assert (f"STOP at {stop};" in other) == bool(query), "the two do not differ, so this shows nothing"
