"""Prices of the explanations against those of HiGHS, once and by hand.

    cargo test --test why -- --ignored written_for_another_solver
    python tests/cross/duals.py target/cross

Needs the package highspy. The test writes the merged program of every example as MPS, and beside it a line for each
row with our price at the optimum, and one for each side where a small step gives another price. Prints, for each
example, both optima and the largest difference of prices where ours is the same on both sides.
"""
import pathlib
import sys

import highspy

worst = 0.0
for path in sorted(pathlib.Path(sys.argv[1]).glob("*.mps")):
    h = highspy.Highs()
    h.setOptionValue("output_flag", False)
    h.setOptionValue("threads", 1)
    h.readModel(str(path))
    h.run()
    value = h.getInfo().objective_function_value
    lp = h.getLp()
    dual = dict(zip(lp.row_names_, h.getSolution().row_dual))
    lines = path.with_suffix(".prices").read_text().splitlines()
    ours = float(lines[0])
    off, unique = 0.0, 0
    for line in lines[1:]:
        name, up, down = line.split("\t")
        if up == "none" or down == "none":
            continue
        up, down = float(up), float(down)
        size = max(abs(up), abs(down), 1e-9)
        if abs(up + down) > 1e-6 * size:
            # A corner: any price between the two sides is right.
            low, high = sorted((up, -down))
            assert low - 1e-6 * size <= dual[name] <= high + 1e-6 * size, (path.name, name, low, dual[name], high)
            continue
        unique += 1
        off = max(off, abs(up - dual[name]) / max(abs(up), 1e-6))
    worst = max(worst, off)
    print(f"{path.stem}: ours {ours:.9g}, HiGHS {value:.9g}; {unique} prices, largest relative difference {off:.2g}")
print(f"largest of all {worst:.2g}")
