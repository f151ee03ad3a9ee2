"""Joins two lists of measurements and prints how many times longer the library took."""

import json
import sys

# At least so many times faster than the library beside, on rounds of practice's size.
AIMS = {
    ("alpha", "small"): 20,
    ("alpha", "large"): 20,
    ("latent class", "small"): 20,
    ("latent class", "large"): 20,
    ("icc", "complete"): 50,
}

# Values agree to rounding; the latent class to where the library stops, which is earlier and flatters its time.
TOLERANCE = {"latent class": 2e-4}


def read(path):
    with open(path, encoding="utf-8") as lines:
        return {(m["what"], m["round"]): m for m in map(json.loads, lines)}


ours, theirs = read(sys.argv[1]), read(sys.argv[2])
failed = False
print(f"{'':28} {'round':9} {'ours':>10} {'library':>10} {'ratio':>8}  library, values")
for key, mine in ours.items():
    what, round_ = key
    other = theirs.get(key)
    if other is None:
        print(f"{what:28} {round_:9} {mine['seconds'] * 1e3:8.2f}ms {'':>10} {'':>8}  {mine['value']:.9f}")
        continue
    ratio = other["seconds"] / mine["seconds"]
    same = abs(mine["value"] - other["value"]) < TOLERANCE.get(what, 1e-6)
    reached = ratio >= AIMS.get(key, 0)
    failed |= not (same and reached)
    note = "" if same else "  VALUES DIFFER"
    note += "" if reached else f"  below the aim of {AIMS[key]}"
    print(f"{what:28} {round_:9} {mine['seconds'] * 1e3:8.2f}ms {other['seconds'] * 1e3:8.1f}ms {ratio:7.0f}x"
          f"  {other['library']}, {mine['value']:.9f} {other['value']:.9f}{note}")
sys.exit(failed)
