"""Loads, amendments, removals, erasures and changes of protocol in any order, against the same rules in plain dictionaries.

The long form: `python tests/store/test_model.py 300` runs that many sequences.
"""

import shutil
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as some
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from outcomes.protocol import RowAddress, default_protocol, protocol_from_text
from outcomes.store import (
    Amendment,
    Source,
    amend_value,
    change_protocol,
    check_register,
    erase_patients,
    protocol_versions,
    reading,
    record_rows,
    remove_row,
    restore_row,
)
from tests.store.clinic import AT, FILE, case, made, patient, review

WHY = Source(reason="typed wrongly")
VALUES = {"retraction_mm": [0.5, 1.0], "oedema": [0, 1], "masked": ["yes", "no"]}
PROTOCOLS = (
    default_protocol(),
    protocol_from_text(default_protocol().text.replace('"public_threshold": 5', '"public_threshold": 6')),
)
DAY = review(1).values["reviewed_on"]
ABSENT = "absent"
numbers = some.sampled_from([1, 2])
names = some.sampled_from(list(VALUES))
# Each cell: its column is not there, or is blank, or has a value.
sheets = some.dictionaries(
    numbers,
    some.fixed_dictionaries({name: some.sampled_from([ABSENT, None, *values]) for name, values in VALUES.items()}),
    min_size=1,
)
amendments = names.flatmap(lambda name: some.tuples(some.just(name), some.sampled_from([None, *VALUES[name]])))


class Account:
    """What stands of one review, and what the sheet said last of each amended value."""

    def __init__(self):
        self.stands, self.said, self.removed = None, {}, False

    def load(self, row, *, erase):
        given = {name: cell for name, cell in row.items() if cell != ABSENT and (erase or cell is not None)}
        if self.stands is None:
            self.stands = {name: given.get(name) for name in VALUES}
        elif not self.removed:
            for name, cell in given.items():
                if name not in self.said or cell != self.said[name]:
                    self.stands[name] = cell
                    self.said.pop(name, None)

    def amend(self, name, value):
        self.said.setdefault(name, self.stands[name])
        if self.said[name] == value:
            del self.said[name]
        self.stands[name] = value


class Register(RuleBasedStateMachine):
    def __init__(self):
        super().__init__()
        self.folder = tempfile.mkdtemp(prefix="store-model-")
        self.path = made(Path(self.folder), [patient(1), patient(2), case(1), case(2)])
        self.accounts = {1: Account(), 2: Account()}
        self.removed_cases, self.erased, self.changes = set(), set(), 0
        self.load(dict.fromkeys((1, 2), dict.fromkeys(VALUES)), erase=False)

    def teardown(self):
        shutil.rmtree(self.folder)

    def there(self, number):
        account = self.accounts[number]
        return account.stands is not None and not account.removed and number not in self.removed_cases

    @rule(rows=sheets, erase=some.booleans())
    def load(self, rows, erase):
        given = []
        for number, cells in rows.items():
            row = review(
                number, trichiasis=None, **{name: None if cell == ABSENT else cell for name, cell in cells.items()}
            )
            blank = frozenset(name for name, cell in cells.items() if cell is None)
            given.append(replace(row, erases=blank if erase else frozenset()))
        record_rows(self.path, [patient(1), patient(2), *given, case(1), case(2)], source=FILE, at=AT)
        self.erased.clear()
        for number, cells in rows.items():
            if number not in self.removed_cases:
                self.accounts[number].load(cells, erase=erase)

    @rule(number=numbers, change=amendments)
    def amend(self, number, change):
        name, value = change
        if self.there(number) and self.accounts[number].stands[name] != value:
            amend_value(self.path, Amendment(f"C{number}", name, value, DAY), source=WHY, at=AT)
            self.accounts[number].amend(name, value)

    @rule(number=numbers)
    def remove_or_restore_review(self, number):
        account, address = self.accounts[number], RowAddress(f"C{number}", DAY)
        if account.stands is not None and number not in self.removed_cases:
            (restore_row if account.removed else remove_row)(self.path, address, source=WHY, at=AT)
            account.removed = not account.removed

    @rule(number=numbers)
    def erase(self, number):
        """Nothing of the patient is left; a sheet that is loaded again brings the rows back as new."""
        if number not in self.erased:
            erase_patients(self.path, [f"P{number}"], source=WHY, at=AT)
            self.accounts[number] = Account()
            self.removed_cases.discard(number)
            self.erased.add(number)

    @rule()
    def change_rules(self):
        self.changes += 1
        change_protocol(self.path, PROTOCOLS[self.changes % 2], source=WHY, at=AT)

    @precondition(lambda self: any(account.stands for account in self.accounts.values()))
    @rule(number=numbers)
    def remove_or_restore_case(self, number):
        if number in self.erased:
            return
        act = restore_row if number in self.removed_cases else remove_row
        act(self.path, RowAddress(f"C{number}"), source=WHY, at=AT)
        self.removed_cases ^= {number}

    @invariant()
    def what_stands_is_what_the_account_says(self):
        with reading(self.path) as register:
            held = {int(key[0][1:]): row for key, row in register.held()["reviews"].items()}
            past = () if 1 in self.erased else register.history("C1")
            last = {(entry.sheet, entry.field): entry.value for entry in past}
            assert register.protocol.fingerprint == PROTOCOLS[self.changes % 2].fingerprint
        there = {number: self.accounts[number].stands for number in (1, 2) if self.there(number)}
        assert {number: {name: row.get(name) for name in VALUES} for number, row in held.items()} == there
        if self.accounts[1].stands is not None:
            assert {name: last.get(("reviews", name)) for name in VALUES} == self.accounts[1].stands
        assert check_register(self.path) == ()
        assert len(protocol_versions(self.path)) == 1 + self.changes


def run(examples, steps):
    chosen = settings(
        max_examples=examples,
        stateful_step_count=steps,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        phases=(Phase.explicit, Phase.reuse, Phase.generate),  # each step opens a register: shrinking takes too long
    )
    run_state_machine_as_test(Register, settings=chosen)


def test_what_stands_is_what_the_second_account_says():
    run(8, 10)


if __name__ == "__main__":
    run(int(sys.argv[1]), 12)
