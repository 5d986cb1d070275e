"""Checks what the monitors say of random runs against rtamt, an implementation of signal temporal logic.

Reads JSON lines from the example `monitors` of the crate `clause`. Each line holds a clause, what it means as
formulas that must be true at each sample of a grid of 1 ms, and a few runs with the sample at which the monitor
called the clause broken (or null). Signals are 1 and -1, never 0, and go through rtamt's discrete-time offline
monitor: its dense-time one knows no rise or fall, gives 0 at equality and drops the last sample.

Ends with 1 when a verdict differs, when a form of clause or a part of one was checked too seldom or not at all,
when too few clauses nest as deep as they may, or when too few verdicts are "broken".
"""

import collections
import json
import sys

import rtamt

LEAST_RUNS = 500  # of each form, each part and each depth
FORMS = [
    "always P",
    "never P",
    "never E",
    "never more than N E within D",
    "only S changes X",
    "E only after P for D",
    "E only after no E2 for D",
    "X does not change for D",
    "when T then Q within D",
    "when T then Q for D",
    "when T then Q for D until R",
    "when T then Q until R",
    "when T then Q within D until R",
]
# What may stand in any form: how it is seen in a clause's keys and texts.
PARTS = {
    "while P": lambda keys, text: "while" in keys,
    "unless R": lambda keys, text: "unless" in keys,
    "not P": lambda keys, text: "not (" in text,
    "P and P": lambda keys, text: ") and (" in text,
    "P or P": lambda keys, text: ") or (" in text,
    "P for D": lambda keys, text: ") for " in text,
    "no E for D": lambda keys, text: "no (" in text,
    "E within D of E2": lambda keys, text: " ms of (" in text,
    "P becomes true": lambda keys, text: ") becomes true" in text,
}
DEPTHS = [1, 2, 3]
LEAST_BROKEN = 0.25  # of all verdicts, and of those of each form
SIGNALS = [f"p{n}" for n in range(4)] + [f"e{n}" for n in range(6)] + ["one"]


def specification(formula):
    """A monitor of rtamt for one formula."""
    spec = rtamt.StlDiscreteTimeOfflineSpecification()
    for signal in SIGNALS:
        spec.declare_var(signal, "float")
    spec.spec = formula
    spec.parse()
    return spec


def data_set(run):
    """The samples of a run as rtamt takes them."""
    length = len(run["p"][0])
    data = {"time": list(range(length)), "one": [1.0] * length}
    for kind in "pe":
        for number, bits in enumerate(run[kind]):
            data[f"{kind}{number}"] = [1.0 if bit == "1" else -1.0 for bit in bits]
    return data


def first_violation(spec, lag, data):
    """When the run breaks the clause by this formula, as far as the run goes."""
    length = len(data["time"])
    values = spec.evaluate(data)
    assert len(values) == length, "rtamt gives one value for each sample"
    for at, value in values:
        assert value != 0, "a signal of 1 and -1 never gives 0"
        if value < 0 and at + lag < length:
            return at + lag
    return None


def check(line, counts):
    """Checks one clause on its runs; prints and counts what differs."""
    specs = [(specification(found["stl"]), found["lag"]) for found in line["checks"]]
    textbook = specification(line["textbook"]) if line["textbook"] else None
    count = counts[line["form"]]
    count["clauses"] += 1
    keys, text = {key for key, _ in line["clause"]}, " ".join(text for _, text in line["clause"])
    parts = [part for part, is_there in PARTS.items() if is_there(keys, text)]
    for run in line["runs"]:
        data = data_set(run)
        found = [first_violation(spec, lag, data) for spec, lag in specs]
        expected = min((at for at in found if at is not None), default=None)
        count["runs"] += 1
        count["broken"] += run["broken_at"] is not None
        count[f"nesting {line['nesting']}"] += 1
        for part in parts:
            count[part] += 1
        if run["broken_at"] != expected:
            count["different"] += 1
            report(line, run, f"monitor: {run['broken_at']}, rtamt: {expected}")
        if textbook is not None:
            count["textbook"] += 1
            broken = first_violation(textbook, 0, data) is not None
            if broken != (run["broken_at"] is not None):
                count["different"] += 1
                report(line, run, f"monitor: {run['broken_at']}, textbook form broken: {broken}")


def report(line, run, what):
    """Shows a difference with everything that is needed to see it again."""
    print(f"DIFFERENT ({what}): {json.dumps(line['clause'])}")
    for found in line["checks"]:
        print(f"  {found['stl']}")
    print(f"  {json.dumps({'p': run['p'], 'e': run['e']})}")


def main():
    counts = collections.defaultdict(collections.Counter)
    for line in sys.stdin:
        check(json.loads(line), counts)
    failures = []
    print(f"{'form':<34}{'clauses':>8}{'runs':>7}{'broken':>8}{'textbook':>9}{'different':>10}")
    total = collections.Counter()
    for form, count in counts.items():
        total.update(count)
        share = count["broken"] / count["runs"]
        print(
            f"{form:<34}{count['clauses']:>8}{count['runs']:>7}{share:>8.0%}"
            f"{count['textbook']:>9}{count['different']:>10}"
        )
        if count["runs"] < LEAST_RUNS:
            failures.append(f"{form}: only {count['runs']} runs")
        if share < LEAST_BROKEN:
            failures.append(f"{form}: only {share:.0%} broken")
    nested = ", ".join(f"{key}: {total[key]}" for key in sorted(total) if key.startswith("nesting"))
    print(f"{total['runs']} runs of {total['clauses']} clauses; {nested}")
    print(", ".join(f"{part}: {total[part]}" for part in PARTS))
    if counts.keys() != set(FORMS):
        failures.append(f"the forms are not those that were to be checked: {sorted(counts.keys() ^ set(FORMS))}")
    for seldom in [*PARTS, *(f"nesting {depth}" for depth in DEPTHS)]:
        if total[seldom] < LEAST_RUNS:
            failures.append(f"{seldom}: only {total[seldom]} runs")
    if total["broken"] < LEAST_BROKEN * total["runs"]:
        failures.append(f"only {total['broken']} of {total['runs']} verdicts are broken")
    if total["different"]:
        failures.append(f"{total['different']} verdicts differ")
    for failure in failures:
        print(f"failed: {failure}")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
