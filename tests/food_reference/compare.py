"""Ingle's answers held against the reference's. A finding is one answer of one rule:

    agree       the same answer
    cautious    Ingle says less than the readings bear out, and says why (counted by reason)
    unexplained it says less and does not say why
    beyond      it says more: a fault"""
import re
from dataclasses import dataclass, replace

import evidence
import orders
import rules
import verdicts
from rules import celsius

GOOD = {"met", "not-applicable"}
NOISE_K = 0.4     # the truth may be missed by what noise can hide
SETTLING_S = 300  # a probe that is back takes this long to show the core again
REASONS = [
    ("the tip moved as air does", r"as air or a surface"),
    ("not read for a time", r"not read|no reading|unread|unseen|without reading|gap|may have been|not seen|hole"),
    ("the probe was moved", r"moved|out of|faster than|not the core|displaced|lies in|lifted|medium"),
    ("not over yet", r"so far|not yet|still|running|under way|left|has to be|has fallen|by then|to go"),
    ("held for too short a time", r"for \d+ s|at or above|held"),
    ("the option does not hold here", r"cure|nitrite|option|edition|only for"),
    ("the come-up", r"come-up"),
    ("what cooled before", r"issed once already|warmed again|above the last limit again"),
    ("a stricter published limit", r"Asked|at most|Rule:|Measured|measured|above|below|USDA"),
]


@dataclass
class Finding:
    seed: int
    rule: str
    kind: str
    ingle: str
    reference: str
    why: str = ""


class References:
    """The rules over the evidence that an honest judge may have: the filter's, and what truly was the core's
    own. Where a moved probe cannot be known from its readings, all of them."""

    def __init__(self, r, only_probe=False):
        self.r = r
        medium = [] if only_probe else r.medium_readings()
        thickness = 0.0 if only_probe else r.thickness_m
        longest = evidence.longest_step_s(r.times)
        sets = []
        if r.has_core:
            sets = [evidence.filtered(r.readings(), medium, thickness), r.true_readings()]
            if not r.knowable or only_probe:
                sets.append(evidence.without_spikes([(t, c) for t, c in r.readings() if c is not None]))
        sets = sets or [[]]
        self.strict = verdicts.Dish(sets[0], 0.0, r.end, longest, thickness)
        self.lenient = [verdicts.Dish(s, 0.0, r.end, longest, thickness, True) for s in sets]
        coarse = max(1, int(30 / r.grid_s))
        truth = [(i * r.grid_s, c) for i, c in enumerate(r.truth) if i % coarse == 0 and i * r.grid_s <= r.end + 30]
        self.truth = verdicts.Dish(truth, 0.0, r.end, 90, r.thickness_m, True)
        self.colder = verdicts.Dish([(t, c - NOISE_K) for t, c in truth], 0.0, r.end, 90, r.thickness_m, True)

        heated = [(s.begin, s.end) for s in r.stages if s.does in ("cook", "reheat")]
        for dish in (self.strict, *self.lenient, self.truth, self.colder):
            dish.heated = heated

    def allow(self, answer, judge):
        """Does any of them say the same?"""
        return any(judge(dish) == answer for dish in self.lenient)


def words_of(text):
    return next((name for name, pattern in REASONS if re.search(pattern, text or "")), "")


def finding(refs, rule, ingle, judge, text, good=GOOD):
    """One rule with answers in words."""
    strict, seed = judge(refs.strict), refs.r.seed
    if ingle in good:
        if not refs.allow(ingle, judge) and not (ingle == "not-applicable" and refs.allow("met", judge)):
            return Finding(seed, rule, "beyond", ingle, "/".join(judge(d) for d in refs.lenient), text)
        return Finding(seed, rule, "agree", ingle, strict)
    if strict == "met":
        why = words_of(text)
        return Finding(seed, rule, "cautious" if why else "unexplained", ingle, strict, why or text)
    return Finding(seed, rule, "agree" if ingle == strict else "cautious", ingle, strict, words_of(text))


def truly(refs, rule, ingle, holds):
    """An answer that is good must also be true, as far as anybody could know."""
    if ingle == "met" and refs.r.knowable and not holds:
        yield Finding(refs.r.seed, rule + " (truth)", "beyond", ingle, "not so in truth")


def compare(r, said):
    """All findings of one replay."""
    refs = References(r)
    yield from cooling(r, refs, said.dish["cooling"], said.verdicts.get("cooling", ("", ""))[1])
    yield from core_target(r, refs, said)
    answer, text = said.verdicts.get("lethality", ("", ""))
    yield from lethality(r, refs, said.dish["lethality_log10"], text, answer)
    yield from danger(r, refs, said)
    yield from holding(r, refs, said)
    yield from two_hours(r, refs, said)
    yield from reheating(r, refs, said)
    yield from told(r, refs, said)
    yield from ordered(r, said)


def cooling(r, refs, answer, text):
    word = r.cooling_rule or "food-code"
    cold = all(s.does in ("brine", "cold-hold", "thaw") for s in r.stages)
    found = finding(refs, "cooling", answer, lambda d: verdicts.cooling(d, word, r.food, cold), text)
    if found.kind == "beyond" and answer == "met" and refs.allow("not-applicable",
                                                                 lambda d: verdicts.cooling(d, word, r.food)) \
            and verdicts.cooling(refs.colder, word, r.food) == "met":
        found.kind, found.reference = "agree", "within noise of the limit"
    yield found
    holds = any(verdicts.cooling(truth, word, r.food) == "met" for truth in (refs.truth, refs.colder))
    yield from truly(refs, "cooling", answer, holds)


def core_target(r, refs, said):
    if not rules.TARGETS.get(r.food) or "core-target" not in said.verdicts:
        return
    answer, text = said.verdicts["core-target"]
    word = answer if answer in ("met", "unknown", "missed", "not-applicable") else "missed"
    yield finding(refs, "core-target", word, lambda d: verdicts.target(d, r.food), text, {"met"})
    asked = rules.TARGETS.get(r.food)
    yield from truly(refs, "core-target", word, asked and refs.truth.peak() >= celsius(asked.degf) - 0.5)


def lethality(r, refs, log10, text, said_answer=""):
    columns = sorted(rules.dwell_rows(r.food))
    if not columns or log10 is None:
        return
    answer = (said_answer or "").startswith("met")
    asked = columns[1] if len(columns) > 1 else columns[0]  # 6.5 log10 of meat, 7 of poultry
    if answer:
        yield finding(refs, "lethality verdict", "met",
                      lambda d: "met" if verdicts.row_fulfilled(d, r.food, asked) else "missed", text, {"met"})
    for column in columns:
        word = "met" if log10 >= column - 1e-3 else "missed"
        yield finding(refs, f"lethality {column:g}", word,
                      lambda d, c=column: "met" if verdicts.row_fulfilled(d, r.food, c) else "missed", text, {"met"})


def danger(r, refs, said):
    """Neither the measured nor the possible time may be told too small."""
    if not r.has_core:
        return
    possible = said.dish.get("danger_zone_possible_s")
    true_s = verdicts.danger_s(refs.truth)[0]
    own_s = min(verdicts.danger_s(d)[0] for d in refs.lenient)
    slack = 120 + 3 * r.cadence + 0.02 * true_s + seconds_near(refs.truth)
    if possible is not None and r.knowable and possible < true_s - slack:
        yield Finding(r.seed, "danger-zone", "beyond", f"at most {possible:.0f} s", f"truly {true_s:.0f} s")
    elif possible is not None and possible < own_s - slack:
        yield Finding(r.seed, "danger-zone", "beyond", f"at most {possible:.0f} s", f"read {own_s:.0f} s")
    elif possible is not None:
        yield Finding(r.seed, "danger-zone", "agree", f"{possible:.0f}", f"{true_s:.0f}")


def seconds_near(truth):
    """Time within noise of a limit of the zone, which may count or not."""
    return sum(s.length() for s in truth.steps for f in rules.DANGER_DEGF if abs(s.c0 - celsius(f)) < 0.7)


def holding(r, refs, said):
    for rule, kinds in (("hot-hold", {"hot-hold"}), ("cold-hold", {"cold-hold", "brine"})):
        if rule not in said.verdicts:
            continue
        answer, text = said.verdicts[rule]
        known = as_told(r, said)
        stages = [s for s in known if s.does in kinds] or [s for s in known if s.does == "chill"]

        def judge(dish, stages=stages, hot=rule == "hot-hold"):
            if not stages:
                return "not-applicable"
            each = [verdicts.holding(dish.within(s.begin, min(s.end, r.end)), hot, s.does == "chill") for s in stages]
            return next((a for a in ("missed", "unknown") if a in each), "met")
        yield finding(refs, rule, answer, judge, text, {"met"})
        worst = judge(refs.truth)
        yield from truly(refs, rule, answer, worst == "met" or not_beyond(refs.truth, stages, rule == "hot-hold"))


def two_hours(r, refs, said):
    """More than 2 h in 24 h beyond a holding limit is never met, and never without an alarm."""
    word = r.cooling_rule or "food-code"
    for rule, hot, kinds in (("hot-hold", True, {"hot-hold"}), ("cold-hold", False, {"cold-hold", "brine"})):
        seconds = [[verdicts.beyond_in_a_day_s(d.within(s.begin, min(s.end, r.end)), hot,
                                               0.0 if hot else verdicts.cooled_until(d, word)) for s in r.stages
                    if s.does in kinds] for d in (refs.truth, *refs.lenient)]
        surely = min((max(of, default=0.0) for of in seconds), default=0.0)
        if not r.has_core or surely < rules.DANGER_S + 1200:
            continue
        answer, text = said.verdicts.get(rule + "-2h", ("", ""))
        if answer in GOOD:
            yield Finding(r.seed, rule + " 2 h", "beyond", answer, f"{surely:.0f} s beyond the limit in 24 h", text)
        # That one of the stays was told is not enough: food that was so warm in all is thrown away.
        told_of = said.thrown_away() or said.raised("core-unread") or not hot and \
            said.raised("danger-zone", "cold-hold", "cooling-late", "discard")
        yield Finding(r.seed, rule + " 2 h", "agree" if told_of else "beyond", "an alarm" if told_of else "no alarm",
                      f"{surely:.0f} s beyond the limit in 24 h")


def as_told(r, said):
    """A stage after one that waits for `ingle next`, which no recording says, begins when the core shows it."""
    began = {int(e["stage"]): e["t"] for e in said.events("stage-began")}
    found = []
    for n, s in enumerate(r.stages, 1):
        late = n in began and began[n] > s.begin + 60
        over = s.end if late and s.end > began[n] else began.get(n + 1, r.end)
        found.append(replace(s, begin=began[n], end=over) if late else s)
    return found


def not_beyond(truth, stages, hot):
    """In truth never more than noise beyond the limit, once it was there."""
    limit = celsius(rules.HOT_HOLD_DEGF if hot else rules.COLD_HOLD_DEGF)
    for stage in stages:
        inside = [c for t, c in truth.readings if stage.begin <= t <= stage.end]
        there = next((i for i, c in enumerate(inside) if (c >= limit if hot else c <= limit)), len(inside))
        if any((c < limit - 0.6) if hot else (c > limit + 0.6) for c in inside[there:]):
            return False
    return True


def reheating(r, refs, said):
    name = next((rule for rule in said.verdicts if rule.startswith("reheat")), None)
    if not name:
        return
    answer, text = said.verdicts[name]
    first = r.stages[0].does == "reheat" or r.food == "leftover"

    def judge(dish):
        found = verdicts.reheating(dish, first)
        return found[-1] if found else "met" if dish.seen() and dish.peak() >= celsius(165) else "unknown"
    yield finding(refs, "reheating", answer, judge, text, {"met"})


def told(r, refs, said):
    """A notice that the core has reached something, and a stage that ended by it: was it read, this time?"""
    asked = rules.TARGETS.get(r.food)
    for stage, nxt in zip(r.stages, r.stages[1:] + [None]):
        degf = [f for f in (stage.until_degf, asked.degf if asked else 0) if f]
        until = nxt.begin if nxt else r.end + 1
        reached = [a["t"] for a in said.raised("core-target") if stage.begin < a["t"] <= until]
        if nxt is None and stage.until_degf:
            reached += [e["t"] for e in said.events("stage-ended") if e["t"] > stage.begin + 1]
        if not degf:
            continue
        for t in reached:
            level = celsius(min(degf)) - 0.3
            ok = any(was_read(dish, t, level) for dish in refs.lenient)
            yield Finding(r.seed, "told", "agree" if ok else "beyond", f"reached at {t:.0f} s",
                          f"{min(degf):g} degF was {'' if ok else 'not '}read")
    silent = not said.raised("danger-zone", "cooling-late", "hot-hold", "cold-hold", "discard", "core-unread")
    word = r.cooling_rule or "food-code"
    if r.has_core and silent and verdicts.cooling(refs.strict, word, r.food) == "missed" \
            and verdicts.cooling(refs.truth, word, r.food) == "missed":
        yield Finding(r.seed, "told", "beyond", "no alarm", "cooling was missed")


def was_read(dish, t, level):
    """A reading at the level since the core was last well below it."""
    low = max((s for s, c in dish.readings if s <= t and c < level - 25), default=-1)
    return any(low < s <= t + SETTLING_S and c >= level for s, c in dish.readings)


def ordered(r, said):
    """Nobody is told to heat and to chill at once."""
    found = orders.opposite(said.lines, list(dict.fromkeys(s.vessel for s in r.stages)))
    if any(line["kind"] == "alarm" and line.get("action") for line in said.lines):
        t, one, other = found[0] if found else (0, "", "")
        yield Finding(r.seed, "orders", "beyond" if found else "agree", one, other, f"at {t:.0f} s" if found else "")
