"""Any sequence of loads and amendments against a second account of the same rules, kept in plain dictionaries."""

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as some

from outcomes.store import Amendment, Source, amend_value, check_register, reading, record_rows
from tests.store.clinic import AT, FILE, case, made, patient, review

FIELDS = ("retraction_mm", "oedema", "masked")
VALUES = {"retraction_mm": [None, 0.5, 1.0], "oedema": [None, 0, 1], "masked": [None, "yes", "no"]}
reviews = some.fixed_dictionaries({name: some.sampled_from(values) for name, values in VALUES.items()})
loads = some.dictionaries(some.sampled_from([1, 2]), reviews, min_size=1).map(lambda rows: ("load", rows))
amendments = some.sampled_from(FIELDS).flatmap(
    lambda name: some.tuples(
        some.just("amend"), some.sampled_from([1, 2]), some.just(name), some.sampled_from(VALUES[name])
    )
)


class Account:
    """What stands, and what the sheet said last; a cell counts only when the sheet says something else than before."""

    def __init__(self):
        self.stands, self.said, self.amended = {}, {}, set()

    def load(self, number, row):
        if number not in self.stands:
            self.stands[number], self.said[number] = dict(row), dict(row)
            return
        for name, cell in row.items():
            if (number, name) in self.amended and cell == self.said[number][name]:
                continue
            self.stands[number][name] = cell
            self.said[number][name] = cell
            self.amended.discard((number, name))

    def amend(self, number, name, value):
        if (number, name) not in self.amended:
            self.said[number][name] = self.stands[number][name]
        self.amended.add((number, name))
        self.stands[number][name] = value


@settings(max_examples=6, deadline=None)
@given(some.lists(loads | amendments, min_size=3, max_size=7))
def test_what_stands_is_what_the_second_account_says(acts):
    account = Account()
    with tempfile.TemporaryDirectory() as folder:
        path = made(Path(folder), [patient(1), patient(2), case(1), case(2)])
        for act in acts:
            if act[0] == "load":
                rows = [review(number, trichiasis=None, **row) for number, row in act[1].items()]
                record_rows(path, rows, source=FILE, at=AT)
                for number, row in act[1].items():
                    account.load(number, row)
            elif act[1] in account.stands and account.stands[act[1]][act[2]] != act[3]:
                _, number, name, value = act
                where = Amendment(f"C{number}", name, value, review(number).values["reviewed_on"])
                amend_value(path, where, source=Source(reason="r"), at=AT)
                account.amend(number, name, value)
        with reading(path) as register:
            held = {int(key[0][1:]): row for key, row in register.held()["reviews"].items()}
            last = {(entry.sheet, entry.record, entry.field): entry.value for entry in register.history("C1")}
        assert {number: {name: row.get(name) for name in FIELDS} for number, row in held.items()} == account.stands
        if 1 in account.stands:
            past = {name: value for (sheet, _, name), value in last.items() if sheet == "reviews" and name in FIELDS}
            assert {name: past.get(name) for name in FIELDS} == account.stands[1]
        assert check_register(path) == ()
