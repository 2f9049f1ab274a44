"""The whole proof of the likely causes as one report.

    python -m tests.doubt_proof.report [--seeds 3] [--seen]

Cities that neither the reference of the proof nor the limits have seen, real trees that are not on
the list of known mistakes, three sets of ground and habits. Figures in percent. `--seen` reports
on the other cities instead, those that the limits were set on. Takes some minutes.
"""

import argparse
from collections import Counter
from itertools import pairwise

import numpy as np

from tests.doubt_proof.generator import SETS
from tests.doubt_proof.injections import KINDS
from tests.doubt_proof.surveys import UNSEEN, reference_without, sound_trees
from tests.doubt_proof.trial import (
    Result,
    batch_trial,
    diameter_trial,
    invented,
    mismatch_trial,
    shuffle_trial,
    trial,
)

SEEN = ("Sacramento, CA", "Modesto, CA", "Fort Collins, CO", "Glendale, AZ")
BANDS = (1.0, 1.1, 1.3, 1.6, 2.2, 4.0, np.inf)
SCALES = [kind for kind in KINDS if kind.split()[0] in ("degrees", "percent", "topographic")]
STEM_KINDS = ("inches for centimetres", "girth for diameter", "digit dropped, diameter",
              "digits transposed, diameter")  # fmt: skip
SIGHT_KINDS = ("degrees taken as percent", "percent taken as degrees", "feet for metres",
               "digits transposed, tip", "foot and tip swapped")  # fmt: skip
TIP_KINDS = ("decimal moved, tip", "digit dropped, tip", "digits transposed, tip")


def share(part: int, whole: int) -> str:
    """Return a percentage, a dash of nothing."""
    return f"{100 * part / whole:5.1f}" if whole else "    -"


def kinds_in(setting: str, cities: tuple[str, ...], seeds: int, reference) -> dict[str, Result]:
    """Return the results of every kind of mistake in one set."""
    results = {}
    for kind in KINDS:
        results[kind] = Result()
        for city in cities:
            for seed in range(seeds):
                results[kind].add(trial(city, setting, kind, 100 + seed, reference))
    return results


def tell_kinds(setting: str, results: dict[str, Result]) -> None:
    """Print one set: found, named first, in the first three, and what was named."""
    print(f"\n{setting}\n{'':34s}{'n':>5s} found first three   named first")
    for kind, r in results.items():
        most = ", ".join(f"{name} {count}" for name, count in r.named.most_common(3))
        print(f"  {kind:32s}{r.made:5d} {share(r.found, r.made)} {share(r.first, r.made)} "
              f"{share(r.three, r.made)}   {most}")  # fmt: skip
    false, trees = sum((r.false for r in results.values()), Counter()), 0
    trees = sum(r.trees for r in results.values())
    print(f"  false findings per 100 trees: {100 * sum(false.values()) / trees:.2f}")
    for check, count in false.most_common():
        print(f"    {check:30s} {100 * count / trees:.2f}")
    print("  found / in the first three, by the factor of the change:")
    for kind, r in results.items():
        if "," in kind or kind in ("neighbour's distance",):
            print(f"    {kind:30s} {_bands(r)}")


def _bands(r: Result) -> str:
    size, hit, three = np.array(r.size), np.array(r.hit), np.array(r.hit_three)
    said = []
    for low, high in pairwise(BANDS):
        own = (size > low) & (size <= high)
        if own.sum():
            said.append(f"to {high:g}: {share(hit[own].sum(), own.sum()).strip()}/"
                        f"{share(three[own].sum(), own.sum()).strip()} ({own.sum()})")  # fmt: skip
    return "  ".join(said)


def tell_batches(cities: tuple[str, ...], seeds: int, reference) -> None:
    """Print how many whole plots on the wrong scale are found."""
    print("\nplots of ten trees or more on the wrong scale: found with the right scale; false")
    for setting in SETS:
        for kind in SCALES:
            total = np.zeros(4, dtype=int)
            for city in cities:
                for seed in range(seeds):
                    total += batch_trial(city, setting, kind, 200 + seed, reference)
            print(f"  {setting:11s} {kind:30s} {share(total[1], total[0])} of {total[0]:4d}; "
                  f"{total[3]} of {total[2]}")  # fmt: skip


def tell_shuffled(cities: tuple[str, ...], reference) -> None:
    """Print what is left of the named causes when the diameters are dealt out anew."""
    print("\nheight displays, diameters as they are / shuffled: found, named first")
    for kind in (*TIP_KINDS, *STEM_KINDS):
        said = []
        for shuffle in (False, True):
            r = Result()
            for city in cities:
                r.add(shuffle_trial(city, kind, 300, reference, shuffle))
            said.append(f"{share(r.found, r.made)} {share(r.first, r.made)}")
        print(f"  {kind:30s} {r.made:4d}  {said[0]}  / {said[1]}")

    tell_diameters(cities, reference)


def tell_diameters(cities: tuple[str, ...], reference) -> None:
    """Print what the diameter alone says of its mistakes, and what is invented without any."""
    print("\nheight and crown width for the diameter alone, as they are / shuffled: found, first")
    for kind in (*STEM_KINDS, *SIGHT_KINDS):
        said = []
        for shuffle in (False, True):
            r = Result()
            for city in cities:
                r.add(diameter_trial(sound_trees(city), kind, 400, reference, shuffle)[0])
            said.append(f"{share(r.found, r.made)} {share(r.first, r.made)}")
        print(f"  {kind:30s} {r.made:4d}  {said[0]}  / {said[1]}")
    print("\nno mistake at all, as they are / shuffled: lines asked about per 100, with a cause")
    for count in (36, 120, 600):
        said = []
        for shuffle in (False, True):
            total = np.zeros(3, dtype=int)
            for city in cities:
                trees = sound_trees(city).sample(frac=1, random_state=3).reset_index(drop=True)
                for start in range(0, min(len(trees), 720) - count + 1, count):
                    own = trees.iloc[start : start + count].reset_index(drop=True)
                    total += invented(own, start, reference, shuffle)
            said.append(" ".join(f"{100 * part / total[0]:5.2f}" for part in total[1:]))
        print(f"  surveys of {count:3d} trees {total[0]:6d}  {said[0]}  / {said[1]}")


def tell_strangers(cities: tuple[str, ...], seeds: int, reference) -> None:
    """Print how often diameters are told as other trees': their own ones, and dealt out anew."""
    print("\none line in eight mistaken: diameters told as other trees', own / dealt out anew")
    for count in (20, 30, 60, 120, 300):
        told = [
            mismatch_trial(
                sound_trees(city).sample(n=count, random_state=seed).reset_index(drop=True),
                setting, 17 * seed + at, reference,
            )
            for at, city in enumerate(cities)
            for setting in SETS
            for seed in range(seeds)
        ]  # fmt: skip
        own, dealt = (share(sum(each), len(told)) for each in zip(*told, strict=True))
        print(f"  surveys of {count:3d} trees {len(told):4d}  {own}  / {dealt}")


def main() -> None:
    """Print the report."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, default=3)
    asked.add_argument("--seen", action="store_true")
    options = asked.parse_args()
    cities = SEEN if options.seen else UNSEEN
    reference = reference_without(UNSEEN)
    for setting in SETS:
        tell_kinds(setting, kinds_in(setting, cities, options.seeds, reference))
    tell_batches(cities, options.seeds, reference)
    tell_shuffled(cities, reference)
    tell_strangers(cities, options.seeds, reference)


if __name__ == "__main__":
    main()
