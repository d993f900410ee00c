"""The book against a model in plain lists, over any run of deeds: revisions, states, undos and undos of undos."""

import tempfile
from pathlib import Path

import pytest
from book_entries import check_document, gap_body, inputs_body, quote_document
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from geartrack.errors import InputError
from geartrack.shopbook import Book
from geartrack.shopbook.book import taken_back
from geartrack.shopbook.record import FOLLOWS, move_quote
from geartrack.shopbook.rescue import faults_of
from geartrack.shopbook.summary import summaries

STATES = sorted(FOLLOWS)


class ShopBook(RuleBasedStateMachine):
    """One job. The model: a list of (kind, made from, word), and what holds found by asking each entry's own chain."""

    @initialize()
    def start(self):
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "book.sqlite"
        self.book = Book(self.path, create=True)
        self.model = []
        self.job = None
        self.revision("first")

    def teardown(self):
        self.book.db.close()
        self.folder.cleanup()

    def holds(self, n):
        """Whether the entry is in force: no undo in force takes it back, and what it was made from is in force."""
        kind, made_from, _ = self.model[n]
        undone = any(k == "undo" and of == n and self.holds(m) for m, (k, of, _) in enumerate(self.model) if m > n)
        return not undone and (kind == "undo" or made_from is None or self.holds(made_from))

    def held(self, kind):
        return [n for n, entry in enumerate(self.model) if entry[0] == kind and self.holds(n)]

    def state(self):
        quotes = self.held("quote")
        if not quotes:
            return None
        states = [self.model[n][2] for n in self.held("state") if self.model[n][1] == quotes[-1]]
        return states[-1] if states else "draft"

    @rule(name=st.sampled_from(["first", "second", "third"]))
    def revision(self, name):
        with self.book.writing():
            inputs = self.book.add("inputs", inputs_body(name), job=self.job)
            result = self.book.add("result", check_document(), job=inputs.job, about=inputs.uid)
            self.book.add("quote", quote_document(), job=inputs.job, about=result.uid)
        self.job = inputs.job
        at = len(self.model)
        self.model += [("inputs", None, name), ("result", at, ""), ("quote", at + 1, "")]

    @rule(state=st.sampled_from(STATES))
    def move(self, state):
        before = self.state()
        if before is not None and state in FOLLOWS[before]:
            assert move_quote(self.book, 1, state) == before
            self.model.append(("state", self.held("quote")[-1], state))
        else:
            self.refused(lambda: move_quote(self.book, 1, state))

    @rule(value=st.floats(0, 5))
    def read(self, value):
        with self.book.writing():
            self.book.add("measurement", gap_body(value), job=self.job)
        self.model.append(("measurement", None, value))

    @rule(data=st.data())
    def undo_any(self, data):
        n = data.draw(st.integers(0, len(self.model) - 1))
        taken = self.model[n][0] == "undo" and not self.holds(n)
        if self.holds(n) and not taken:
            self.book.undo(1, n + 1)
            self.model.append(("undo", n, ""))
        else:
            self.refused(lambda: self.book.undo(1, n + 1))

    @precondition(lambda self: any(self.holds(n) for n, e in enumerate(self.model) if e[0] != "undo"))
    @rule()
    def undo_last(self):
        n = max(n for n, e in enumerate(self.model) if e[0] != "undo" and self.holds(n))
        while self.model[n][0] in ("quote", "result"):
            n = self.model[n][1]
        self.book.undo(1)
        self.model.append(("undo", n, ""))

    @rule()
    def open_again(self):
        self.book.db.close()
        self.book = Book(self.path)

    def refused(self, deed):
        with pytest.raises(InputError, match=r"\A[^\n]+\Z"):
            deed()

    @invariant()
    def says_what_the_model_says(self):
        record = self.book.record(1)
        assert [entry.kind for entry in record.entries] == [kind for kind, *_ in self.model]
        at = {entry.uid: n for n, entry in enumerate(record.entries)}
        wanted = [n for n in range(len(self.model)) if self.model[n][0] != "undo" and self.holds(n)]
        assert [at[entry.uid] for entry in record.held] == wanted
        assert record.state == self.state()
        assert {at[uid] for uid in taken_back(record)} == {self.model[n][1] for n in self.held("undo")}
        names = [self.model[n][2] for n in self.held("inputs")]
        found = summaries(self.book)
        assert [(each.name, each.state) for each in found] == (
            [(names[-1] if names else "", self.state())] if wanted else []
        )

    @invariant()
    def nothing_is_wrong_with_it(self):
        assert faults_of(self.book) == []


TestShopBook = ShopBook.TestCase
TestShopBook.settings = settings(max_examples=25, stateful_step_count=25, deadline=None, derandomize=True)
