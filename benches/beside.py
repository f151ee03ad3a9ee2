"""The same figures by general-purpose libraries, on the same rounds; prints one JSON object a line."""

import json
import sys
import time
import warnings

import krippendorff
import numpy as np
import pandas as pd
import pingouin
from crowdkit.aggregation import DawidSkene
from statsmodels.stats.inter_rater import aggregate_raters, fleiss_kappa

warnings.filterwarnings("ignore")


def timed(work, runs):
    shortest = float("inf")
    for _ in range(runs):
        start = time.perf_counter()
        value = work()
        shortest = min(shortest, time.perf_counter() - start)
    return shortest, value


def say(what, round_, library, measured):
    seconds, value = measured
    print(json.dumps({"what": what, "round": round_, "seconds": seconds, "value": float(value), "library": library}))


for name in ["complete", "small", "large"]:
    data = pd.read_csv(f"{sys.argv[1]}/{name}.csv")
    wide = data.pivot(index="rater", columns="item", values="value").to_numpy()
    say("alpha", name, "krippendorff", timed(
        lambda: krippendorff.alpha(reliability_data=wide, level_of_measurement="nominal"), 3))

    answers = data.rename(columns={"item": "task", "rater": "worker", "value": "label"})

    def latent_class():
        # Run until nothing moves, so that the values can be compared.
        model = DawidSkene(n_iter=200, tol=1e-10)
        model.fit(answers)
        return model.priors_[1]

    say("latent class", name, "crowd-kit", timed(latent_class, 1))
    if name == "complete":
        def icc():
            table = pingouin.intraclass_corr(data=data, targets="item", raters="rater", ratings="value")
            return table["ICC"].iloc[1]

        say("icc", name, "pingouin", timed(icc, 3))
        say("fleiss", name, "statsmodels", timed(lambda: fleiss_kappa(aggregate_raters(wide.T)[0]), 3))
