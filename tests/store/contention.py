"""Two writers and ten readers at once, looked through for a read that is not whole and a write that was lost.

Run for a minute by `python tests/store/contention.py`, or for so many seconds by `python tests/store/contention.py 300`; the
suite runs it for a few seconds. Every process writes one line of JSON: what it did, and each refusal that it met.
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
WRITERS, READERS = 2, 10
PATIENCE = 2.0


def write(path, name, seconds):
    """Add one case after another, amending every third; only what the register confirmed is told."""
    from outcomes.store import Amendment, Patience, Source, amend_value, record_rows
    from tests.store.clinic import AT, case, patient

    told = {"stored": [], "amended": [], "refused": []}

    def attempt(number):
        code = f"{name}{number}"
        rows = [patient(number, patient_id=f"P{code}"), case(number, case_id=code, patient_id=f"P{code}", snap_back=0)]
        record_rows(path, rows, source=Source(file="x", digest="0" * 64), at=AT, patience=Patience(PATIENCE))
        told["stored"].append(code)
        if number % 3 == 0:
            change = Amendment(code, "snap_back", 4)
            amend_value(path, change, source=Source(who=name, reason="again"), at=AT, patience=Patience(PATIENCE))
            told["amended"].append(code)

    repeated(attempt, told, seconds)
    return told


def read(path, name, seconds):
    """Read the register again and again: verified each time, whole each time, and never with fewer cases than before."""
    from outcomes.store import Patience, check_register, reading

    told = {"read": 0, "refused": [], "wrong": []}
    seen = 0
    chance = random.Random(name)

    def attempt(number):
        nonlocal seen
        with reading(path, Patience(PATIENCE)) as register:
            cases, held = register.cases, register.held()
        if len(held["reconstructions"]) != cases or len(held["patients"]) != cases or cases < seen:
            told["wrong"].append(f"{cases} cases, {len(held['patients'])} patients, {seen} before")
        seen = cases
        if number % 5 == 0:
            told["wrong"] += check_register(path, Patience(PATIENCE))
        told["read"] += 1
        time.sleep(chance.random() / 5)

    repeated(attempt, told, seconds)
    return told


def repeated(attempt, told, seconds):
    from outcomes.store.files import RegisterBusy

    end, number = time.monotonic() + seconds, 0
    while time.monotonic() < end:
        try:
            attempt(number)
        except RegisterBusy as refusal:
            told["refused"].append(refusal.summary)
        number += 1


def contend(path, seconds):
    """Start all of them, wait, and give what each told; one that ended with a traceback is told as it is."""
    started = [
        subprocess.Popen(
            [sys.executable, __file__, task, str(path), f"{task[0].upper()}{number}-", str(seconds)],
            cwd=ROOT, env={"PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for task, many in (("write", WRITERS), ("read", READERS))
        for number in range(many)
    ]  # fmt: skip
    told = []
    for each in started:
        out, err = each.communicate(timeout=seconds + 120)
        told.append(json.loads(out) if each.returncode == 0 else {"traceback": err})
    return told[:WRITERS], told[WRITERS:]


def judged(path, writers, readers):
    """Everything that went wrong, in words; and what was done."""
    from outcomes.store import check_register, reading

    wrong = [each["traceback"] for each in (*writers, *readers) if "traceback" in each]
    wrong += [fault for each in readers for fault in each.get("wrong", ())]
    wrong += [each for told in (*writers, *readers) for each in told.get("refused", ()) if "in use" not in each]
    wrong += check_register(path)
    stored = [code for each in writers for code in each.get("stored", ())]
    amended = [code for each in writers for code in each.get("amended", ())]
    with reading(path) as register:
        held = register.held()["reconstructions"]
        wrong += [f"{code} was lost" for code in stored if (code,) not in held]
        wrong += [f"the amendment of {code} was lost" for code in amended if held[code,]["snap_back"] != 4]
        wrong += [f"{key} was never confirmed" for key in held if key[0] not in stored and key[0][0] == "W"]
        past = len({each.change for code in stored for each in register.history(code)})
    if past != len(stored) + len(amended):
        wrong.append(f"{past} changes in the history for {len(stored)} cases stored and {len(amended)} amended")
    refused = sum(len(told.get("refused", ())) for told in (*writers, *readers))
    done = {"stored": len(stored), "amended": len(amended), "read": sum(each.get("read", 0) for each in readers)}
    return wrong, {**done, "refused, each with a sentence": refused}


def main(arguments):
    """Run one of the processes, or all of them on a register of their own."""
    sys.path.insert(0, str(ROOT))
    if arguments[:1] in (["write"], ["read"]):
        task, path, name, seconds = arguments
        print(json.dumps({"write": write, "read": read}[task](Path(path), name, float(seconds))))
        return 0
    from tests.store.clinic import made

    with tempfile.TemporaryDirectory() as folder:
        path = made(Path(folder))
        wrong, done = judged(path, *contend(path, float(arguments[0]) if arguments else 60.0))
    print(done)
    print("\n".join(wrong) or "nothing went wrong")
    return len(wrong)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
