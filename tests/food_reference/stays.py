"""Food that is kept hot for a day and is too cold again and again, each time for a short while."""
import recordings
from rules import HOUR, celsius


def hot_stays(r, rng):
    """One hot box whose fire burns low: no stay below the limit is long, and all of them together are."""
    r.grid_s = 30
    k = recordings.begin(r, rng, celsius(rng.uniform(150, 175)))
    for _ in range(rng.randint(6, 20)):
        least = celsius(rng.uniform(128, 134))
        for level, most_s, until in ((rng.uniform(155, 175), rng.uniform(0.4, 1.2) * HOUR, None),
                                     (rng.uniform(85, 115), 2 * HOUR, lambda c, least=least: c <= least)):
            k.vessels["hot-box"] = celsius(level)
            k.stage("hot-hold", "hot-box", celsius(level), most_s, until)
    r.stages = [recordings.Stage("hot-hold-1", "hot-hold", "hot-box", 0, k.now(), 0)]
    return k
