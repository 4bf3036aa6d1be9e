"""How good weeks and days are beside what HiGHS makes of the same models.

    cargo test --test crosscheck -- --ignored briefs_written     # invented briefs, in target/peers
    python quality.py weeks FOLDER [--count 40] [--long 10] [--out FILE]
    python quality.py days FOLDER [--count 40] [--out FILE]
    python quality.py more FILE --folder FOLDER --moves N        # our own search, longer, on the long ones
    python quality.py again FILE --folder FOLDER                 # our plans anew, by a later build
    python quality.py table FILE ...

Each brief of the folder, in the order of names, is planned by platewright at its default effort. Briefs that no plan
can fulfil (a gate, a conflict of the linear program) are passed over; those where platewright finds no plan though the
program has one stay and count as lost when HiGHS finds any. The written model is solved by highspy on one thread
without a start: a week for 60 seconds, every so many of them for 600, where what it had after 60 counts for both; a
day for 120 seconds or until it is proven. A line of JSON is kept for each, so a run that ended goes on where it was.
"""

import argparse
import json
import pathlib
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
# Digits of a written model; two values within it are the same.
SAME = 1e-6
# After `closeness` and `usual` platewright spends up to so much of the objective on a lower cost (CLOSE_ENOUGH,
# docs/math.md section 9), which HiGHS is not asked to do. The table counts with and without it.
SPENT = 0.02


def planned(platewright, brief, model=None, moves=None):
    """The plan of a brief as JSON, and the seconds it took; with its model beside when asked."""
    command = [platewright, "plan", str(brief), "--format", "json"]
    command += ["--model", str(model)] if model else []
    command += ["--moves", str(moves)] if moves else []
    start = time.monotonic()
    answer = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, check=False)
    return (json.loads(answer.stdout) if answer.stdout else None), time.monotonic() - start


def ours(plan):
    """The value of a plan that holds all that the written model asks for; one that misses what should hold is none."""
    holds = plan["outcome"] == "planned" and not plan["search"].get("missed")
    return plan["search"]["value"] if holds else None


def highs(model, limit):
    """The plans HiGHS found with the seconds they came at, its bound, and whether it proved its last one."""
    import highspy

    h = highspy.Highs()
    h.setOptionValue("output_flag", False)
    h.setOptionValue("threads", 1)
    h.setOptionValue("time_limit", float(limit))
    h.setOptionValue("mip_rel_gap", SAME)
    if h.readModel(str(model)) != highspy.HighsStatus.kOk:
        raise SystemExit(f"{model}: HiGHS cannot read it")
    found, start = [], time.monotonic()
    h.cbMipImprovingSolution += lambda e: found.append([round(time.monotonic() - start, 1), e.data_out.objective_function_value])
    h.solve()
    status = h.modelStatusToString(h.getModelStatus())
    info = h.getInfo()
    # A plan found as the clock ran out may not have been told of.
    value = info.objective_function_value if info.primal_solution_status == 2 else None
    if value is not None and (not found or value < found[-1][1] * (1 - SAME)):
        found.append([round(time.monotonic() - start, 1), value])
    return {"found": found, "bound": info.mip_dual_bound, "status": status, "seconds": round(time.monotonic() - start, 1)}


def kept(path):
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def compare(options):
    days = options.what == "days"
    out = pathlib.Path(options.out or ROOT / f"target/peers/{options.what}.jsonl")
    done = {line["brief"]: line for line in kept(out)}
    count = 0
    every = max(1, options.count // options.long) if options.long and not days else 0
    # The long ones first: their lines say most.
    briefs = []
    for path in sorted(options.folder.glob("*.toml")):
        if len(briefs) == options.count:
            break
        plan, seconds = planned(options.platewright, path)
        if plan is None or not plan.get("search") or plan["outcome"] == "stopped" or plan.get("conflict"):
            continue
        long = bool(every) and len(briefs) % every == 0
        briefs.append((not long, path, plan, seconds))
    for short, path, plan, seconds in sorted(briefs, key=lambda b: b[0]):
        count += 1
        if path.stem in done:
            continue
        with tempfile.TemporaryDirectory() as folder:
            model = pathlib.Path(folder, "model.mps")
            planned(options.platewright, path, model, moves=1)
            theirs = highs(model, 120 if days else 60 if short else 600)
        search = plan["search"]
        line = {
            "brief": path.stem,
            "objective": search["objective"],
            "ours": ours(plan),
            "lp": search["bound"],
            "our_seconds": round(seconds, 2),
            "long": not short,
            **theirs,
        }
        with out.open("a") as file:
            file.write(json.dumps(line) + "\n")
        print(f"{count}/{len(briefs)} {path.stem}: ours {line['ours']}, HiGHS {theirs['found'][-1:] or 'none'}, "
              f"bound {theirs['bound']:.6g}, {theirs['status']}", flush=True)


def more(options):
    """Our own search with more moves on the briefs that HiGHS had long."""
    lines = kept(options.file)
    for line in lines:
        if line.get("long") and "ours_long" not in line:
            plan, seconds = planned(options.platewright, options.folder / f"{line['brief']}.toml", moves=options.moves)
            line["ours_long"] = ours(plan)
            line["long_seconds"] = round(seconds, 1)
            print(line["brief"], line["ours"], line["ours_long"], flush=True)
            options.file.write_text("".join(json.dumps(l) + "\n" for l in lines))


def again(options):
    """Our plans anew; what HiGHS found stays."""
    lines = kept(options.file)
    for line in lines:
        plan, seconds = planned(options.platewright, options.folder / f"{line['brief']}.toml")
        line["ours"] = ours(plan)
        line["our_seconds"] = round(seconds, 2)
        print(line["brief"], line["ours"], flush=True)
    options.file.write_text("".join(json.dumps(l) + "\n" for l in lines))


def after(line, seconds):
    values = [value for at, value in line["found"] if at <= seconds + 1.0]
    return min(values) if values else None


def no_worse(line, theirs, margin=0.0, spent=0.0):
    if theirs is None:
        return True
    ours = line["ours"]
    spent = 0.0 if line["objective"] == "cost" else spent
    return ours is not None and ours <= theirs + abs(theirs) * (margin + SAME) + spent + 1e-9


def table(options):
    for path in options.files:
        lines = kept(path)
        print(f"\n{path.name}: {len(lines)} briefs\n")
        print("| brief | objective | ours | HiGHS, 60 s | HiGHS, at the end | after | best bound | ours, longer |")
        print("|---|---|---|---|---|---|---|---|")
        for l in sorted(lines, key=lambda l: l["brief"]):
            f = lambda v: "none" if v is None else f"{v:.6g}"
            bound = max([b for b in (l["bound"], l["lp"]) if b is not None and abs(b) < 1e29], default=None)
            l["best_bound"] = bound
            print(f"| {l['brief']} | {l['objective']} | {f(l['ours'])} | {f(after(l, 60))} | {f(after(l, 1e9))} "
                  f"| {l['seconds'] if l['status'] == 'Optimal' else 'limit'} | {f(bound)} | {f(l['ours_long']) if 'ours_long' in l else ''} |")
        share = lambda good, of: f"{good} of {of}" + (f", {100 * good / of:.0f} %" if of else "")
        n = len(lines)
        best = lambda l: min([v for v in (after(l, 1e9), l.get("ours_long"), l["ours"]) if v is not None], default=None)
        long = [l for l in lines if l["long"]]
        proven = [l for l in lines if l["status"] in ("Optimal", "Infeasible")]

        def said(what, of, theirs, margin):
            if of:
                both = [share(sum(no_worse(l, theirs(l), margin, spent) for l in of), len(of)) for spent in (0.0, SPENT)]
                print(f"{what}: {both[0]}; with what is spent on cost: {both[1]}")

        print(f"\nplatewright has a plan: {share(sum(l['ours'] is not None for l in lines), n)}")
        print(f"HiGHS has a plan after 60 s: {share(sum(after(l, 60) is not None for l in lines), n)}")
        print(f"HiGHS proves that there is none: {sum(l['status'] == 'Infeasible' for l in lines)}")
        said("no worse than HiGHS after 60 s", lines, lambda l: after(l, 60), 0.0)
        said("within 1 % of HiGHS after 600 s", long, lambda l: after(l, 1e9), 0.01)
        said("within 1 % of the best of HiGHS after 600 s and our longer search", long, best, 0.01)
        said("within 1 % of the proven optimum", proven, lambda l: after(l, 1e9), 0.01)
        told = sum(no_worse(l, l["best_bound"], 0.01, SPENT) for l in lines if l["status"] != "Infeasible")
        print(f"within 1 % of a bound, or of what is spent on cost: {share(told, n)}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--platewright", default=str(ROOT / "target/release/platewright"))
    parts = parser.add_subparsers(dest="what", required=True)
    for what in ("weeks", "days"):
        part = parts.add_parser(what)
        part.add_argument("folder", type=pathlib.Path)
        part.add_argument("--count", type=int, default=40)
        part.add_argument("--long", type=int, default=10)
        part.add_argument("--out")
    for what in ("more", "again"):
        part = parts.add_parser(what)
        part.add_argument("file", type=pathlib.Path)
        part.add_argument("--folder", type=pathlib.Path, required=True)
        if what == "more":
            part.add_argument("--moves", type=int, required=True)
    part = parts.add_parser("table")
    part.add_argument("files", type=pathlib.Path, nargs="+")
    options = parser.parse_args()
    {"weeks": compare, "days": compare, "more": more, "again": again, "table": table}[options.what](options)


if __name__ == "__main__":
    main()
