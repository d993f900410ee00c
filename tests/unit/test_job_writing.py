"""Job files that are written: whole or not at all, exact, and with comments that can be taken away line by line."""

import os
import tomllib

import pytest
import tomlkit
from job_documents import TEXT, document

from geartrack.errors import InputError
from geartrack.job import job_document, job_from_dict, new_job_text, read_job, write_job, write_text
from geartrack.job.keys import KEYS

ANSWERS = {
    "name": "spare case",
    "axle.ring_diameter": "9 in",
    "axle.offset": {"value": "2.25 in", "how": "caliper"},
    "axle.hand": "below",
    "gears.teeth": "8/39",
    "case.cracked": False,
    "boss.end_face": "50 mm",
    "boss.bore_diameter": "45 mm",
    "boss.bore_depth": "20 mm",
    "boss.parts": [{"kind": "cylinder", "diameter": "54 mm", "from": "0 mm", "to": "22 mm"}],
}


def contents(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_document_is_written_as_typed(tmp_path):
    typed = document({"axle.offset": {"value": "54 mm", "how": "caliper"}})
    write_job(typed, tmp_path / "job.toml")
    assert tomllib.loads((tmp_path / "job.toml").read_text(encoding="utf-8")) == typed
    assert read_job(tmp_path / "job.toml") == job_from_dict(typed, tmp_path, "job.toml")


def test_a_commented_document_keeps_its_comments(tmp_path):
    commented = tomlkit.parse(TEXT)
    commented["axle"]["offset"] = "50 mm"
    write_job(commented, tmp_path / "job.toml")
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert text.startswith("# An invented job.\n")
    assert read_job(tmp_path / "job.toml").axle.offset.value == 50.0


def test_a_job_written_in_another_folder_still_finds_its_station_table(tmp_path):
    (tmp_path / "here").mkdir()
    (tmp_path / "there").mkdir()
    (tmp_path / "here" / "boss.csv").write_text("", encoding="utf-8")
    job = job_from_dict(document({"boss.parts": None, "boss.stations": "boss.csv"}), tmp_path / "here", "job.toml")
    write_job(job, tmp_path / "there" / "job.toml")
    assert read_job(tmp_path / "there" / "job.toml") == job


def test_a_spelled_out_job_keeps_what_was_a_default(tmp_path):
    job = job_from_dict(document(), tmp_path, "job.toml")
    again = job_from_dict(job_document(job), tmp_path, "again.toml")
    assert again == job
    assert again.target.gap.origin == "default"


def test_an_existing_file_is_written_over_only_if_told(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="is there already; another name, or say that it may be written over"):
        write_job(document(), path)
    assert path.read_text(encoding="utf-8") == "mine"
    write_job(document(), path, overwrite=True)
    assert read_job(path).name == "demo"
    assert contents(tmp_path) == ["job.toml"]


def test_a_link_is_followed_and_stays_a_link(tmp_path):
    (tmp_path / "real.toml").write_text("old", encoding="utf-8")
    (tmp_path / "link.toml").symlink_to("real.toml")
    write_text(tmp_path / "link.toml", "new", overwrite=True)
    assert (tmp_path / "link.toml").is_symlink()
    assert (tmp_path / "real.toml").read_text(encoding="utf-8") == "new"


@pytest.mark.parametrize("stage", ["fsync", "replace"])
def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path, monkeypatch, stage):
    path = tmp_path / "job.toml"
    path.write_text("mine", encoding="utf-8")

    def full(*_args, **_kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full) if stage == "fsync" else monkeypatch.setattr(type(path), "replace", full)
    with pytest.raises(InputError, match=r"job\.toml: cannot be written: No space left on device"):
        write_job(document(), path, overwrite=True)
    assert path.read_text(encoding="utf-8") == "mine"
    assert contents(tmp_path) == ["job.toml"]


def test_an_interruption_leaves_nothing_behind(tmp_path, monkeypatch):
    def interrupt(_descriptor):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_job(document(), tmp_path / "job.toml")
    assert contents(tmp_path) == []


def test_a_text_that_cannot_be_encoded_leaves_nothing_behind(tmp_path):
    with pytest.raises(InputError, match="holds a character that no file can hold"):
        write_text(tmp_path / "job.toml", "\ud800")
    assert contents(tmp_path) == []


def test_the_folder_is_synced_through_the_files_own_name(tmp_path, monkeypatch):
    """Written beside, under another name, and renamed: at no moment is there a half-written job.toml."""
    seen = []
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda descriptor: (seen.append(contents(tmp_path)), real(descriptor)))
    write_job(document(), tmp_path / "job.toml")
    assert "job.toml" not in seen[0]
    assert len(seen[0]) == 1
    assert contents(tmp_path) == ["job.toml"]


@pytest.mark.parametrize("place", ["", "no/such/folder/job.toml"])
def test_where_nothing_can_be_written(tmp_path, place):
    with pytest.raises(
        InputError, match=r"is a folder; name a file in it|cannot be written: No such file or directory"
    ):
        write_job(document(), tmp_path / place)
    assert contents(tmp_path) == []


# A new job


def test_a_new_job_reads_back_as_answered(tmp_path):
    write_text(tmp_path / "new.toml", new_job_text(ANSWERS))
    job = read_job(tmp_path / "new.toml")
    assert (job.name, job.gears.teeth, job.axle.hand) == ("spare case", "8/39", "below")
    assert job.axle.offset.spread == pytest.approx(0.0508, rel=1e-9)  # a caliper's 0.002 in
    assert job.case.cracked is False
    assert job.gears.face_width is None


def test_every_key_stands_in_a_new_job_with_its_meaning():
    text = new_job_text(ANSWERS)
    for key, about in KEYS.items():
        if not key.startswith(("turning", "correlated")) and not key.startswith(
            ("boss.parts", "boss.stations", "boss.scan", "boss.trace")
        ):
            assert f"# {about.means}" in text, key
    assert text.startswith("# A geartrack job. ")


def test_a_comment_taken_away_reads_in_its_own_table(tmp_path):
    """Whatever key a builder brings to life, it must land in the table it stands under."""
    lines = new_job_text(ANSWERS).splitlines()
    needs = {"set_thickness": ("set",), "back_face": ("back_face_from",), "wall_in_old_scallop": ("ground_before",)}
    for number, line in enumerate(lines):
        key = line.removeprefix("# ").partition(" = ")[0]
        if not line.startswith("# ") or " = " not in line or " " in key:
            continue
        changed = list(lines)
        changed[number] = line.removeprefix("# ")
        for other in needs.get(key, ()):
            place = next(n for n, text in enumerate(changed) if text.startswith(f"# {other} = "))
            changed[place] = {"set": 'set = "thick"', "ground_before": "ground_before = true"}.get(
                other, changed[place].removeprefix("# ")
            )
        path = tmp_path / "job.toml"
        path.write_text("\n".join(changed), encoding="utf-8")
        read_job(path)


def test_answers_are_checked_together():
    with pytest.raises(InputError) as caught:
        new_job_text({**ANSWERS, "axle.offset": "2", "gears.teeth": "", "boss.bore_diameter": "60 mm"})
    assert [finding.where for finding in caught.value.findings] == [
        "answers, key axle.offset",
        "answers, key gears.teeth",
        "answers, key boss.parts 1",
    ]


def test_a_new_job_may_have_a_station_table(tmp_path):
    (tmp_path / "boss.csv").write_text("", encoding="utf-8")
    answers = {key: value for key, value in ANSWERS.items() if key != "boss.parts"} | {"boss.stations": "boss.csv"}
    write_text(tmp_path / "new.toml", new_job_text(answers, tmp_path))
    assert read_job(tmp_path / "new.toml").boss.stations.typed == "boss.csv"


def test_plain_answers_find_their_tables_and_make_a_cylinder():
    plain = {
        "name": "spare case",
        "ring_diameter": "9 in",
        "offset": {"value": "2.25 in", "how": "caliper"},
        "hand": "below",
        "teeth": "8/39",
        "cracked": False,
        "end_face": "50 mm",
        "boss_diameter": "54 mm",
        "boss_length": "22 mm",
        "bore_diameter": "45 mm",
        "bore_depth": "20 mm",
    }
    assert new_job_text(plain) == new_job_text(ANSWERS)
    del plain["boss_length"]
    with pytest.raises(InputError, match=r"answers, key boss\.parts 1\.to: not given"):
        new_job_text(plain)
    with pytest.raises(InputError, match="answers, key colour: unknown key 'colour'"):
        new_job_text({**ANSWERS, "colour": "red"})


def test_nothing_answered_is_lost(tmp_path):
    (tmp_path / "x.toml").write_text('[axle]\nring_diameter = "9 in"\n', encoding="utf-8")
    body = {"name": "bolts", "section": [["60 mm", "70 mm"], ["80 mm", "70 mm"], ["80 mm", "80 mm"]]}
    kept = {key: value for key, value in ANSWERS.items() if key != "axle.ring_diameter"}
    answers = kept | {"axle.file": "x.toml", "turning": [body], "gears.measured": {"toe_height": "34 mm"}, "note": None}
    text = new_job_text(answers, tmp_path)
    expected = {
        "format": 1,
        "name": "spare case",
        "turning": [body],
        "axle": {"file": "x.toml", "offset": {"value": "2.25 in", "how": "caliper"}, "hand": "below"},
        "gears": {"teeth": "8/39", "measured": {"toe_height": "34 mm"}},
        "case": {"cracked": False},
        "boss": {key.removeprefix("boss."): value for key, value in ANSWERS.items() if key.startswith("boss.")},
        "target": {},
        "running": {},
        "old_gears": {},
        "setup": {},
        "shop": {},
    }
    assert tomllib.loads(text) == expected


def test_a_key_under_what_is_no_table_is_refused():
    with pytest.raises(InputError, match=r"answers, key name\.first: 'name' holds no keys; such as gears\.teeth"):
        new_job_text(ANSWERS | {"name.first": "x"})
