"""Bounds that the tool states against the optima of HiGHS, from exported files alone.

    python tests/cross/optima.py FOLDER [seconds]

Looks at every NAME.mps of the folder with a bound beside it: NAME.json, the plan as JSON (its bound has six digits),
or NAME.bound, a number of full precision or `none` where the tool says that not everything can hold. Files are
read here, not by the project, after the published form of MPS, and solved by the HiGHS of the package scipy. With the
package highspy HiGHS reads each file by itself as well, and both must agree.

The bound is that of days that are alike, so the rows that no such bound has (`gap_`, `pot_`; docs/math.md, section
7) are left out: then it is the optimum of the relaxation, not just under it. With `seconds`, models of one day
are also solved in whole servings: no plan of HiGHS may lie under the tool's bound, and no plan of the tool under what
HiGHS proves.
"""
import json
import math
import pathlib
import sys

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

SAME = 1e-6
LEFT_OUT = ("gap_", "pot_")


class Mps:
    """A program read from free MPS: minimise cost x with low <= A x <= high, lo <= x <= hi."""

    def __init__(self, path):
        self.rows, self.columns = {}, {}
        self.kinds, self.cost, self.whole, self.lo, self.hi = [], [], [], [], []
        self.terms, rhs, ranges = [], {}, {}
        section, whole = None, False
        for line in path.read_text().splitlines():
            if not line.strip() or line.startswith("*"):
                continue
            words = line.split()
            if not line[0].isspace():
                section = words[0]
                continue
            if section == "ROWS":
                if words[0] == "N" and not hasattr(self, "goal"):
                    self.goal = words[1]
                else:
                    self.rows[words[1]] = len(self.kinds)
                    self.kinds.append(words[0])
            elif section == "COLUMNS":
                if words[1] == "'MARKER'":
                    whole = words[2] == "'INTORG'"
                    continue
                if words[0] not in self.columns:
                    self.columns[words[0]] = len(self.cost)
                    for part, value in ((self.cost, 0.0), (self.whole, whole), (self.lo, 0.0), (self.hi, math.inf)):
                        part.append(value)
                c = self.columns[words[0]]
                for row, value in zip(words[1::2], words[2::2]):
                    if row == self.goal:
                        self.cost[c] = float(value)
                    else:
                        self.terms.append((self.rows[row], c, float(value)))
            elif section in ("RHS", "RANGES"):
                for row, value in zip(words[1::2], words[2::2]):
                    (rhs if section == "RHS" else ranges)[self.rows[row]] = float(value)
            elif section == "BOUNDS":
                kind, c = words[0], self.columns[words[2]]
                value = float(words[3]) if len(words) > 3 else None
                if kind in ("LO", "FX"):
                    self.lo[c] = value
                if kind in ("UP", "FX"):
                    self.hi[c] = value
                if kind not in ("LO", "UP", "FX"):
                    raise ValueError(f"{path}: bound {kind}")
            else:
                raise ValueError(f"{path}: section {section}")
        self.low, self.high = [], []
        for r, kind in enumerate(self.kinds):
            b, span = rhs.get(r, 0.0), ranges.get(r)
            low = {"E": b, "G": b, "L": -math.inf if span is None else b - span, "N": -math.inf}[kind]
            high = {"E": b, "L": b, "G": math.inf if span is None else b + span, "N": math.inf}[kind]
            self.low.append(low)
            self.high.append(high)

    def solve(self, whole, seconds=600.0, without=()):
        """What scipy's HiGHS makes of it, rows scaled to a largest coefficient of 1."""
        gone = {r for name, r in self.rows.items() if name.startswith(without)} if without else set()
        size = {}
        for r, _, value in self.terms:
            size[r] = max(size.get(r, 0.0), abs(value))
        keep = {r: n for n, r in enumerate(r for r in range(len(self.kinds)) if r not in gone and size.get(r))}
        terms = [(keep[r], c, v / size[r]) for r, c, v in self.terms if r in keep]
        at = np.array([t[:2] for t in terms]).T
        a = csr_array((np.array([t[2] for t in terms]), (at[0], at[1])), shape=(len(keep), len(self.cost)))
        low = np.array([self.low[r] / size[r] for r in keep])
        high = np.array([self.high[r] / size[r] for r in keep])
        return milp(
            np.array(self.cost),
            constraints=LinearConstraint(a, low, high),
            bounds=Bounds(np.array(self.lo), np.array(self.hi)),
            integrality=np.array(self.whole, dtype=int) if whole else None,
            options={"time_limit": seconds},
        )


def read_by_highs(path):
    """The relaxation as HiGHS reads and solves the file itself; None when highspy is not here."""
    try:
        import highspy
    except ImportError:
        return None
    h = highspy.Highs()
    h.setOptionValue("output_flag", False)
    h.setOptionValue("threads", 1)
    h.setOptionValue("solve_relaxation", True)
    if h.readModel(str(path)) != highspy.HighsStatus.kOk:
        raise AssertionError(f"{path.name}: HiGHS cannot read it")
    return h, highspy


def off(a, b):
    return abs(a - b) / max(abs(b), 1e-3)


def check(path, seconds):
    stated = path.with_suffix(".bound")
    plan = None
    if stated.exists():
        text = stated.read_text().strip()
        bound, digits = (None, 0.0) if text == "none" else (float(text), 0.0)
    else:
        plan = json.loads(path.with_suffix(".json").read_text())
        bound = plan["search"]["bound"]
        if bound is None:
            return 0.0, f"{path.stem}: the plan states no bound"
        # Half a unit of the sixth digit.
        digits = 0.5 * 10.0 ** (math.floor(math.log10(abs(bound))) - 5) if bound else 0.0
    lp = Mps(path)
    found = lp.solve(False, without=LEFT_OUT)
    if bound is None:
        assert found.status == 2, f"{path.name}: no bound is stated, and HiGHS finds {found.fun}"
        return 0.0, f"{path.stem}: nothing holds it, and HiGHS says so"
    assert found.status == 0, f"{path.name}: {found.message}"
    apart = max(abs(bound - found.fun) - digits, 0.0) / max(abs(found.fun), 1e-3)
    said = f"{path.stem}: bound {bound:.9g}, HiGHS {found.fun:.9g}"
    assert apart <= SAME, said
    own = read_by_highs(path)
    if own is not None:
        h, highspy = own
        h.run()
        assert h.getModelStatus() == highspy.HighsModelStatus.kOptimal, f"{path.name}: {h.getModelStatus()}"
        value = h.getInfo().objective_function_value
        all_rows = found if not any(n.startswith(LEFT_OUT) for n in lp.rows) else lp.solve(False)
        assert off(value, all_rows.fun) <= SAME, f"{said}; read by itself {value:.9g}"
        assert bound <= value + SAME * abs(value) + digits, f"{said}; all rows {value:.9g}"
        said += f", read by itself {value:.9g}"
    if seconds and plan and len(plan["days"]) == 1:
        whole = lp.solve(True, seconds)
        value, proven = plan["search"]["value"], getattr(whole, "mip_dual_bound", None)
        room = SAME * abs(value) + 0.5 * 10.0 ** (math.floor(math.log10(abs(value))) - 5)
        if whole.x is not None:
            assert whole.fun >= bound - digits - SAME * abs(bound), f"{said}; whole servings {whole.fun:.9g}"
        if proven is not None and plan["outcome"] == "planned":
            assert value >= proven - room, f"{path.name}: the plan is {value}, HiGHS proves {proven:.9g}"
        said += f"; whole servings {value:.6g}, HiGHS {whole.fun if whole.x is not None else math.nan:.6g}"
        said += f", proven {proven if proven is not None else math.nan:.6g}"
    return apart, said


def main():
    folder = pathlib.Path(sys.argv[1])
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 0.0
    files = [p for p in sorted(folder.glob("*.mps")) if any(p.with_suffix(s).exists() for s in (".bound", ".json"))]
    assert files, f"{folder} has no model with a bound beside it"
    worst = 0.0
    for path in files:
        apart, said = check(path, seconds)
        worst = max(worst, apart)
        print(said, flush=True)
    print(f"{len(files)} models, largest relative difference {worst:.2g}")


main()
