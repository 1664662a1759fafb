"""Coverage, batches and restocking against scipy and networkx. Exits 1 on a difference.

    python tests/peers/upkeep.py [--crate DIR] [--seed N] [--cases N]

matching  how many positions can be filled at once: networkx (Hopcroft and Karp) and scipy.sparse.csgraph.
batches   the least cost of a plan: scipy.optimize.milp (HiGHS) with a variable for every helmet and every pick-up day, where
          the program groups helmets and looks at fewer days.
pieces    the fewest pieces that cover a share of demand: the quantiles of scipy.stats.
"""

import argparse
import random
import sys
from datetime import date, timedelta

import networkx
import numpy
from scipy import stats
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from ask import ask


def matching_case(chance):
    rows, columns = chance.randint(1, 10), chance.randint(1, 20)
    density = chance.choice([0.1, 0.2, 0.4])
    ready = [[column for column in range(columns) if chance.random() < density] for _ in range(rows)]
    matrix = csr_matrix([[1 if column in row else 0 for column in range(columns)] for row in ready])
    by_scipy = int((maximum_bipartite_matching(matrix, perm_type="column") >= 0).sum())
    graph = networkx.Graph()
    graph.add_nodes_from(("r", row) for row in range(rows))
    graph.add_edges_from((("r", row), ("c", column)) for row, all_of in enumerate(ready) for column in all_of)
    top = [("r", row) for row in range(rows)]
    by_networkx = len(networkx.bipartite.hopcroft_karp_matching(graph, top)) // 2
    assert by_scipy == by_networkx
    return {"ask": "matching", "ready": ready, "columns": columns}, by_scipy


def batches_case(chance):
    start = date(2027, 1, 4)
    sizes = ["S", "M", "L"]
    helmets = [
        {
            "size": chance.choice(sizes),
            "until": None if chance.random() < 0.2 else (start + timedelta(days=chance.randint(-15, 200))).isoformat(),
            "goes": chance.random() < 0.85,
        }
        for _ in range(chance.randint(2, 14))
    ]
    works = []
    for _ in range(chance.randint(0, 3)):
        first = start + timedelta(days=chance.randint(0, 140))
        needs = {size: chance.randint(0, 5) for size in sizes if chance.random() < 0.8}
        works.append({"from": first.isoformat(), "until": (first + timedelta(days=chance.randint(0, 30))).isoformat(), "needs": needs})
    question = {
        "ask": "batches",
        "from": start.isoformat(),
        "ship_by": (start + timedelta(days=chance.randint(20, 160))).isoformat(),
        "away_days": chance.randint(10, 60),
        "most": chance.randint(1, 8),
        "costs": [chance.choice([90.0, 150.0, 700.0]), 45.0, chance.choice([60.0, 400.0])],
        "helmets": helmets,
        "works": works,
    }
    return question, least_cost(question)


def least_cost(question):
    day = date.fromisoformat
    days, first = [], day(question["from"])
    while first <= day(question["ship_by"]):
        if first.weekday() == 0:
            days.append(first)
        first += timedelta(days=1)
    going = [helmet for helmet in question["helmets"] if helmet["goes"]]
    if not days:
        return None if going else 0.0
    sizes = sorted({size for work in question["works"] for size in work["needs"]})
    batch, helmet_cost, new = question["costs"]
    count, width = len(days), len(days) * len(going)
    total = width + count + len(sizes)
    cost = numpy.array([helmet_cost] * width + [batch] * count + [new] * len(sizes))
    upper = numpy.array([1.0] * width + [float(len(going))] * count + [1000.0] * len(sizes))
    rows, low, high = [], [], []

    def add(row, least, most):
        rows.append(row)
        low.append(least)
        high.append(most)

    for nth, helmet in enumerate(going):
        row = numpy.zeros(total)
        row[nth * count : (nth + 1) * count] = 1
        add(row, 1, 1)
        until = helmet["until"] and day(helmet["until"])
        if until and any(own <= until for own in days):
            for at, own in enumerate(days):
                if own > until:
                    upper[nth * count + at] = 0
    for at in range(count):
        row = numpy.zeros(total)
        row[[nth * count + at for nth in range(len(going))]] = 1
        row[width + at] = -question["most"]
        add(row, -numpy.inf, 0)
    away = timedelta(days=question["away_days"])
    for work in question["works"]:
        begins, ends = day(work["from"]), day(work["until"])
        serves = lambda helmet: helmet["until"] is None or day(helmet["until"]) >= ends
        for size, needed in work["needs"].items():
            row = numpy.zeros(total)
            row[width + count + sizes.index(size)] = 1
            for nth, helmet in enumerate(going):
                if helmet["size"] == size:
                    for at, own in enumerate(days):
                        if own + away <= begins or (own > ends and serves(helmet)):
                            row[nth * count + at] = 1
            stay = sum(not own["goes"] and own["size"] == size and serves(own) for own in question["helmets"])
            add(row, needed - stay, numpy.inf)
    constraints = [LinearConstraint(numpy.array(rows), low, high)] if rows else []
    solved = milp(cost, constraints=constraints, integrality=numpy.ones(total), bounds=Bounds(0, upper))
    assert solved.success, solved.message
    return float(solved.fun)


def pieces_case(chance):
    mean = round(chance.uniform(0.05, 60), 3)
    variance = round(mean * chance.choice([0.8, 1.0, 1.2, 2.0, 5.0]), 4)
    service = chance.choice([0.8, 0.9, 0.95, 0.975, 0.99])
    if mean >= 20:
        expected = numpy.ceil(mean + stats.norm.ppf(service) * variance**0.5)
    elif variance > mean * 1.05:
        p = mean / variance
        expected = stats.nbinom.ppf(service, mean * p / (1 - p), p)
    else:
        expected = stats.poisson.ppf(service, mean)
    return {"ask": "pieces", "mean": mean, "variance": variance, "service": service}, int(expected)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--crate", default=".")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--cases", type=int, default=150)
    args = parser.parse_args()
    chance = random.Random(args.seed)
    cases = [make(chance) for make in (matching_case, batches_case, pieces_case) for _ in range(args.cases)]
    answers = ask([question for question, _ in cases], args.crate)
    differ = 0
    for (question, expected), answer in zip(cases, answers):
        got = answer["value"]
        same = got == expected if got is None or expected is None else abs(got - expected) < 1e-6
        if not same:
            differ += 1
            print(f"{question}\n  expected {expected}, got {got}")
    print(f"{args.cases} each of matchings, plans of batches and quantiles of demand: {differ} differ")
    sys.exit(1 if differ else 0)


main()
