"""Checks what the monitors say of random runs against rtamt, an implementation of signal temporal logic.

Reads JSON lines from the example `monitors` of the crate `clause`. Each line holds a clause, what it means as
formulas that must be true at each sample of a grid of 1 ms, and a few runs with the sample at which the monitor
called the clause broken (or null). Signals are 1 and -1, never 0, and go through rtamt's discrete-time offline
monitor: its dense-time one knows no rise or fall, gives 0 at equality and drops the last sample.

Ends with 1 when a verdict differs, when a form was checked too seldom, or when too few verdicts are "broken".
"""

import collections
import json
import sys

import rtamt

LEAST_RUNS = 500  # of each form
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
    for run in line["runs"]:
        data = data_set(run)
        found = [first_violation(spec, lag, data) for spec, lag in specs]
        expected = min((at for at in found if at is not None), default=None)
        count["runs"] += 1
        count["broken"] += run["broken_at"] is not None
        count[f"nesting {line['nesting']}"] += 1
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
    if not counts:
        failures.append("nothing was checked")
    if total["different"]:
        failures.append(f"{total['different']} verdicts differ")
    for failure in failures:
        print(f"failed: {failure}")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
