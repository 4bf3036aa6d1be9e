"""The same models through general solvers: time to the same quality, quality at the same time, memory.

Usage: python compare.py [--platewright PATH] [--limit SECONDS] [BRIEF ...]

Each brief is planned by platewright (default effort, seed 1), which also writes its model. The model then goes the way
of a user with Python: read from MPS, built, solved by scipy.optimize.milp (HiGHS inside) and by PuLP with CBC, one thread each.
For each of them three runs in processes of their own:
  same time   stopped after the seconds platewright took: how good is what it has?
  limit       stopped after --limit seconds: how good is what it has then?
  to ours     a row is added that the objective be no higher than platewright's plan, and the first plan ends it:
              how long does it take to one as good?
Seconds are those of the clock, and of the processor in brackets. Memory is the peak of the process with its children.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BRIEFS = [
    ("surplus on a budget, us", "examples/surplus-on-a-budget/brief.toml"),
    ("North Indian vegetarian", "examples/north-indian-vegetarian/brief.toml"),
]


def measured(command, seconds=None):
    """Runs a command; its output, seconds of clock and processor, and peak memory in MB."""
    start = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        out, _ = process.communicate(timeout=seconds)
        ended = True
    except subprocess.TimeoutExpired:
        process.kill()
        out, ended = "", False
    clock = time.monotonic() - start
    return out, clock, ended


def usage(command, seconds=None):
    """As measured, from a process in between, whose children are these alone."""
    watch = [sys.executable, __file__, "--watch", json.dumps(command), str(seconds or 0)]
    answer = json.loads(subprocess.run(watch, stdout=subprocess.PIPE, text=True, check=True).stdout)
    return answer


def watch(command, seconds):
    import resource

    out, clock, ended = measured(command, seconds or None)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(json.dumps({
        "out": out,
        "clock": clock,
        "cpu": used.ru_utime + used.ru_stime,
        "mb": used.ru_maxrss / 1024,
        "ended": ended,
    }))


def read_mps(path):
    """Columns, rows and integers of a free MPS file, as arrays for scipy."""
    import numpy as np
    from scipy.sparse import csr_array

    section = None
    rows, kinds, columns, integer = {}, [], {}, []
    cost, entries, rhs, ranges, low, high = [], [], {}, {}, {}, {}
    objective, whole = None, False
    with open(path, encoding="utf-8") as file:
        for line in file:
            if line.startswith("*") or not line.strip():
                continue
            words = line.split()
            if not line[0].isspace():
                section = words[0]
                continue
            if section == "ROWS":
                kind, name = words
                if kind == "N":
                    objective = name
                else:
                    rows[name] = len(kinds)
                    kinds.append(kind)
            elif section == "COLUMNS":
                if "'MARKER'" in words:
                    whole = "'INTORG'" in words
                    continue
                name = words[0]
                if name not in columns:
                    columns[name] = len(cost)
                    cost.append(0.0)
                    integer.append(whole)
                at = columns[name]
                for row, value in zip(words[1::2], words[2::2]):
                    if row == objective:
                        cost[at] = float(value)
                    else:
                        entries.append((rows[row], at, float(value)))
            elif section == "RHS":
                rhs.update((rows[r], float(v)) for r, v in zip(words[1::2], words[2::2]))
            elif section == "RANGES":
                ranges.update((rows[r], float(v)) for r, v in zip(words[1::2], words[2::2]))
            elif section == "BOUNDS":
                (low if words[0] == "LO" else high)[columns[words[2]]] = float(words[3])
    inf = float("inf")
    lo, hi = [], []
    for n, kind in enumerate(kinds):
        b, r = rhs.get(n, 0.0), ranges.get(n)
        lo.append({"E": b, "G": b, "L": -inf if r is None else b - r}[kind])
        hi.append({"E": b, "L": b, "G": inf if r is None else b + r}[kind])
    r, c, v = zip(*entries)
    return {
        "names": list(columns),
        "c": np.array(cost),
        "A": csr_array((v, (r, c)), shape=(len(kinds), len(cost))),
        "lo": np.array(lo),
        "hi": np.array(hi),
        "low": np.array([low.get(n, 0.0) for n in range(len(cost))]),
        "high": np.array([high.get(n, inf) for n in range(len(cost))]),
        "integer": np.array(integer, dtype=int),
    }


def with_scipy(path, limit, most):
    from scipy.optimize import Bounds, LinearConstraint, milp

    m = read_mps(path)
    rules = [LinearConstraint(m["A"], m["lo"], m["hi"])]
    options = {"time_limit": limit}
    if most is not None:
        rules.append(LinearConstraint(m["c"], ub=most))
        options["mip_rel_gap"] = 1e9
    result = milp(m["c"], integrality=m["integer"], bounds=Bounds(m["low"], m["high"]), constraints=rules, options=options)
    return {"value": result.fun, "bound": result.mip_dual_bound, "status": result.message}


def with_pulp(path, limit, most):
    import pulp

    # PuLP's own reader of MPS knows no ranges, so the problem is built from the rows.
    m = read_mps(path)
    columns = [
        pulp.LpVariable(f"x{n}", low, high, pulp.LpInteger if whole else pulp.LpContinuous)
        for n, (low, high, whole) in enumerate(zip(m["low"], m["high"], m["integer"]))
    ]
    problem = pulp.LpProblem("model", pulp.LpMinimize)
    problem += pulp.LpAffineExpression(list(zip(columns, m["c"])))
    matrix = m["A"]
    for n, (lo, hi) in enumerate(zip(m["lo"], m["hi"])):
        row = slice(matrix.indptr[n], matrix.indptr[n + 1])
        terms = pulp.LpAffineExpression([(columns[c], v) for c, v in zip(matrix.indices[row], matrix.data[row])])
        if lo == hi:
            problem += terms == lo
            continue
        if lo > -float("inf"):
            problem += terms >= lo
        if hi < float("inf"):
            problem += terms <= hi
    more = {}
    if most is not None:
        problem += problem.objective <= most
        more = {"options": ["maxSolutions 1"]}
    solver = pulp.PULP_CBC_CMD(msg=False, threads=1, timeLimit=limit, **more)
    status = problem.solve(solver)
    found = problem.sol_status in (pulp.LpSolutionOptimal, pulp.LpSolutionIntegerFeasible)
    return {
        "value": pulp.value(problem.objective) if found else None,
        "bound": None,
        "status": pulp.LpStatus[status],
    }


PEERS = {"scipy": ("scipy.optimize.milp (HiGHS)", with_scipy), "pulp": ("PuLP with CBC", with_pulp)}


def solve(peer, path, limit, most):
    print(json.dumps(PEERS[peer][1](path, limit, most), default=float))


def peer_run(peer, model, limit, most=None):
    """What a peer has after so many seconds of solving; some more are allowed for reading and building."""
    command = [sys.executable, __file__, "--solve", peer, str(model), str(limit), "-" if most is None else repr(most)]
    used = usage(command, limit + 120)
    lines = used["out"].strip().splitlines()
    answer = json.loads(lines[-1]) if lines else {"value": None, "bound": None, "status": "ended by force"}
    return answer, used


def number(value):
    return "none" if value is None else f"{value:.2f}"


def seconds(used):
    return f"{used['clock']:.1f} s ({used['cpu']:.1f})"


def main():
    if sys.argv[1:2] == ["--watch"]:
        return watch(json.loads(sys.argv[2]), float(sys.argv[3]))
    if sys.argv[1:2] == ["--solve"]:
        peer, path, limit, most = sys.argv[2:6]
        return solve(peer, path, float(limit), None if most == "-" else float(most))
    parser = argparse.ArgumentParser()
    parser.add_argument("--platewright", default=str(ROOT / "target/release/platewright"))
    parser.add_argument("--limit", type=float, default=45.0)
    parser.add_argument("--days", default="1,7", help="days to plan, with commas between")
    parser.add_argument("briefs", nargs="*")
    options = parser.parse_args()
    briefs = [(Path(b).parent.name, b) for b in options.briefs] or [(n, str(ROOT / b)) for n, b in BRIEFS]
    import pulp
    import scipy

    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start; "
          f"scipy {scipy.__version__}, PuLP {pulp.__version__}; limit {options.limit:.0f} s\n")
    print("| brief | route | plan | bound | seconds: clock (processor) | peak MB |")
    print("|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for name, path in briefs:
            text = Path(path).read_text(encoding="utf-8")
            for days in map(int, options.days.split(",")):
                brief, model = Path(folder, "brief.toml"), Path(folder, "model.mps")
                brief.write_text(re.sub(r"(?m)^days *=.*$", f"days = {days}", text), encoding="utf-8")
                plan = [options.platewright, "plan", str(brief), "--format", "json"]
                ours = usage(plan)
                search = json.loads(ours["out"])["search"]
                subprocess.run([*plan, "--model", str(model)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
                label = f"{name}, {days} day{'s' if days > 1 else ''}"
                print(f"| {label} | platewright | {number(search['value'])} | {number(search['bound'])} "
                      f"| {seconds(ours)} | {ours['mb']:.0f} |", flush=True)
                # The model writes its numbers with finite digits, so as good is allowed a hair more.
                most = search["value"] * (1 + 1e-6) + 1e-9
                for peer, (title, _) in PEERS.items():
                    for what, limit, cap in [
                        ("same time", max(ours["clock"], 0.2), None),
                        (f"{options.limit:.0f} s", options.limit, None),
                        ("to ours", options.limit, most),
                    ]:
                        answer, used = peer_run(peer, model, limit, cap)
                        value = number(answer["value"])
                        if cap is not None:
                            value = "as good" if answer["value"] is not None else "not reached"
                        print(f"| | {title}: {what} | {value} | {number(answer.get('bound'))} "
                              f"| {seconds(used)} | {used['mb']:.0f} |", flush=True)


if __name__ == "__main__":
    main()
