"""The rules applied to one dish's evidence: met, missed, unknown or not-applicable, by the published texts.

An answer is "met" only where the readings bear it out with every gap at its worst, "missed" only where no gap
can excuse it. `lenient` takes gaps of up to half an hour as quiet: what is not met even then, nobody may call
met."""
import math

import evidence
import rules
from rules import celsius

ROUND_K = 0.02  # what the recording's decimals and a conversion may round away
PRINTED_K = 0.25  # the texts print 57 degC beside 135 degF
NOISE_K = 1.0   # a rise by less is noise
CHILLED_K = 0.5  # so far past the limit noise no longer lifts it out
NEVER = math.inf


class Dish:
    """One dish's accepted readings from its begin to its end; the unread ends are gaps."""

    def __init__(self, accepted, begin, end, longest_s, thickness_m=None, lenient=False):
        self.begin, self.end, self.lenient = begin, end, lenient
        self.heated = []  # (begin, end) of the stages that heat it
        self.fastest = rules.fastest_k_per_s(thickness_m)
        self.readings, self.warm = accepted, []
        self.steps = evidence.steps_of(accepted, longest_s)
        self.unread_first = accepted[0][0] - begin if accepted else end - begin
        self.unread_last = end - accepted[-1][0] if accepted else 0.0
        if self.unread_first <= longest_s:
            self.unread_first = 0.0
        if self.unread_last <= longest_s:
            self.unread_last = 0.0

    def seen(self):
        return bool(self.readings)

    def within(self, begin, end):
        """The same dish, looked at during one stage only."""
        part = [(t, c) for t, c in self.readings if begin <= t <= end]
        other = Dish.__new__(Dish)
        other.__dict__.update(self.__dict__)
        other.begin, other.end, other.readings, other.warm = begin, end, part, []
        other.steps = [s for s in self.steps if s.t0 >= begin and s.t1 <= end]
        longest = max([s.length() for s in self.steps if not s.gap], default=60.0) + 60
        first, last = (part[0][0], part[-1][0]) if part else (end, begin)
        other.unread_first = first - begin if first - begin > longest else 0.0
        other.unread_last = end - last if end - last > longest else 0.0
        return other

    def bounds(self, step):
        if not step.gap:
            return (step.c0, step.c1) if step.c0 <= step.c1 else (step.c1, step.c0)
        return evidence.bounds(step, self.fastest, self.lenient)

    def seconds_at_or_above(self, degf):
        if not self.warm:
            self.warm = [s for s in self.steps if not s.gap and max(s.c0, s.c1) >= celsius(129)]
        of = self.warm if degf > 130 else [s for s in self.steps if not s.gap]
        return sum(s.seconds_above(celsius(degf) - ROUND_K) for s in of)

    def peak(self):
        return max((c for _, c in self.readings), default=None)


def target(dish, food, degf=None):
    """Was the class's core target (or a plan's own) read, for as long as the text asks?"""
    asked = rules.TARGETS.get(food)
    if degf is None and asked is None:
        return "not-applicable"
    degf, hold = (degf, 0) if degf is not None else (asked.degf, asked.hold_s)
    if not dish.seen():
        return "unknown"
    if dish.peak() >= celsius(degf) - ROUND_K and dish.seconds_at_or_above(degf) >= hold * 0.98 - 1:
        return "met"
    return "unknown" if any(s.gap for s in dish.steps) or dish.unread_first or dish.unread_last else "missed"


def come_up_s(dish):
    """Seconds between 50 and 130 degF before the core was first lethal; (measured, with gaps at worst)."""
    low, high = (celsius(f) for f in rules.COME_UP_DEGF)
    measured = possible = 0.0
    for step in dish.steps:
        if step.gap:
            lowest, highest = dish.bounds(step)
            possible += step.length() if lowest < high and highest > low else 0.0
            continue
        if max(step.c0, step.c1) >= celsius(140):
            break
        seconds = step.seconds_above(low) - step.seconds_above(high)
        measured, possible = measured + seconds, possible + seconds
    return measured, possible + dish.unread_first


def row_fulfilled(dish, food, log10):
    """The highest printed row whose seconds were read at or above its temperature; None: no row."""
    if come_up_s(dish)[0 if dish.lenient else 1] > rules.COME_UP_S:
        return None
    for degf, dwell in sorted(rules.dwell_rows(food).get(log10, {}).items(), reverse=True):
        if dwell == 0 and dish.seen() and dish.peak() >= celsius(degf) - ROUND_K:
            return degf
        if dwell > 0 and dish.seconds_at_or_above(degf) >= dwell * 0.99 - 1:
            return degf
    return None


def danger_s(dish):
    """(measured, possible) seconds between 40 and 140 degF."""
    low, high = (celsius(f) for f in rules.DANGER_DEGF)
    measured = possible = 0.0
    for step in dish.steps:
        if not step.gap:
            seconds = step.seconds_above(low) - step.seconds_above(high)
            measured, possible = measured + seconds, possible + seconds
        else:
            lowest, highest = dish.bounds(step)
            possible += step.length() if lowest < high and highest > low else 0.0
    return measured, possible + dish.unread_first + dish.unread_last


def cooling(dish, word, food, only_cold=False):
    """Two-stage cooling: the last passage, with what earlier passages spent in the zone since 165 degF.
    `only_cold`: it is kept cold all the time, by what its stages say."""
    rule = rules.COOLING[word]
    if not dish.seen():
        return "unknown"
    if rule.cure and food not in rules.CURED:
        rule = rules.COOLING["food-code"]  # the option does not hold here
    top, last_limit = celsius(rule.from_degf), celsius(rule.stages[-1][0])
    hot = [t for t, c in dish.readings if c >= top - PRINTED_K]
    if not hot and only_cold and dish.lenient and dish.peak() < celsius(80):
        return "not-applicable"
    if not hot:
        return "not-applicable" if never_hot(dish, top) else "unknown"
    every = passages(dish, top, hot[0])
    if not every:
        return "not-applicable" if not dish.unread_last else "unknown"
    killed = [t for t, c in dish.readings if c >= celsius(165) and t <= every[-1][0]]
    epoch = killed[-1] if killed else hot[0]
    answers = [passage(dish, rule, begin, until) for begin, until in every if begin >= epoch]
    closed = closed_at(dish, epoch, last_limit)
    zone = sum(s.seconds_above(last_limit + 1) - s.seconds_above(top) for s in dish.steps
               if s.t0 >= epoch and not s.gap and s.t1 <= closed)
    if "missed" in answers:
        return "missed"
    if answers[-1] == "met" and zone > rule.stages[-1][1] + 60:
        return "missed"
    if answers[-1] == "none":  # hot again before it was cold: what it came to is told of the next fall
        return "not-applicable" if dish.lenient else "unknown"
    return answers[-1]


def never_hot(dish, top):
    """What was not read cannot have been hotter than the fastest core comes down from, or goes up to."""
    first, last = dish.readings[0][1], dish.readings[-1][1]
    if first > celsius(41) + 15 or first + dish.fastest * dish.unread_first >= top:
        return False
    if last + dish.fastest * dish.unread_last >= top and not (dish.lenient and dish.unread_last <= evidence.SHORT_GAP_S):
        return False
    return all(dish.bounds(step)[1] < top for step in dish.steps)


def closed_at(dish, begin, limit):
    """When the core had been at or below the last limit for an hour, as far as it was read (for the lenient ten
    minutes do), or when it was read there and is heated on purpose (3-403.11 begins where 3-501.14 ends); the end if
    never. What warms it after that is no part of the cooling."""
    long_enough = 600 if dish.lenient else rules.COLD_FOR_GOOD_S
    since, passed = None, False
    for step in dish.steps:
        if step.t0 < begin:
            continue
        highest = dish.bounds(step)[1]
        if highest > limit + (NOISE_K if dish.lenient else PRINTED_K):
            since = None
            if passed and not step.gap and any(a <= step.t0 < b for a, b in dish.heated):
                return step.t0
        elif since is None and (highest <= limit + ROUND_K or step.c1 <= limit + ROUND_K):
            since = step.t1 if step.c1 <= limit + ROUND_K else step.t0
        passed = passed or step.c1 <= limit + ROUND_K
        if since is not None and step.t1 - since >= long_enough:
            return step.t1
    return dish.end


def passages(dish, top, epoch):
    """(begin, until) of each time below the upper limit after `epoch`: begin is the last reading at it."""
    found, begin, hot_at, lowest = [], None, None, NEVER
    for t, c in dish.readings:
        if t < epoch and c < top - PRINTED_K:
            continue
        if c >= top - PRINTED_K:
            if begin is not None and lowest < top - PRINTED_K - NOISE_K:
                found.append((begin, t))
            begin, hot_at, lowest = None, t, NEVER
        elif hot_at is not None:
            begin, lowest = hot_at, min(lowest, c)
    if begin is not None and lowest < top - PRINTED_K - NOISE_K:
        found.append((begin, dish.end))
    return found


def passage(dish, rule, begin, until):
    """One fall through the upper limit: each limit's last passing with the gaps at their worst."""
    top = celsius(rule.from_degf)
    steps = [s for s in dish.steps if s.t0 >= begin and s.t1 <= until]
    if not steps:
        return "none"
    first = steps[0]
    early = first.t0 if first.gap else first.crossing(top) if first.c0 > top > first.c1 else first.t0
    late = first.t1 if first.gap else early
    over = closed_at(dish, begin, celsius(rule.stages[-1][0]))
    again = until < dish.end or (steps[-1].c1 > top - PRINTED_K)
    answer = "met"
    for degf, most in rule.stages:
        limit = celsius(degf)
        above_surely = max((s.crossing(limit) if not s.gap and s.c1 <= limit < s.c0 else s.t1 if s.c1 > limit
                            else s.t0 for s in steps if s.t0 < over and max(s.c0, s.c1) > limit + ROUND_K),
                           default=None)
        # It was still above a limit only as long as it can come down to where it was read after the gap.
        above_maybe = max((s.crossing(limit) if not s.gap and s.c1 <= limit < s.c0
                           else s.t1 - max(0.0, limit - s.c1) / dish.fastest if s.gap else s.t1
                           for s in steps if s.t0 < over and dish.bounds(s)[1] > limit + 0.5), default=above_surely)
        if above_surely is None:
            continue
        if above_surely - late > most + 60:
            return "missed"
        is_below = steps[-1].c1 <= limit + NOISE_K or over < dish.end
        was_below = any(s.c1 <= limit + ROUND_K for s in steps)
        if not is_below or not was_below or above_maybe is None or above_maybe - early > most + 60:
            answer = "none" if again else "unknown"
    if dish.unread_last and over >= dish.end and not again and answer == "met":
        answer = "met" if dish.lenient else "unknown"
    return answer


def reheating(dish, begun_reheating):
    """Cooked (or begun as a reheating), fell below 70 degF, and rises again: 165 degF within 2 h from 41."""
    answers = []
    rising_from = None if not begun_reheating else dish.begin
    cooked = begun_reheating
    peak, held, reached, low = None, 0.0, None, None
    for step in dish.steps:
        if step.c1 >= celsius(135):
            cooked = True
        if cooked and step.c1 <= celsius(70) and rising_from is None:
            low = step.c1 if low is None else min(low, step.c1)
        if low is not None and rising_from is None and step.c1 > max(low + 5, celsius(41)):
            rising_from, peak, held, reached = step.t0, step.c1, 0.0, None
        if rising_from is None:
            continue
        peak = step.c1 if peak is None else max(peak, step.c1)
        if step.c1 <= celsius(rules.REHEAT_FROM_DEGF) and peak < celsius(rules.REHEAT_DEGF):
            rising_from = step.t1
        held += 0 if step.gap else step.seconds_above(celsius(rules.REHEAT_DEGF) - ROUND_K)
        if reached is None and held >= rules.REHEAT_HOLD_S - 1:
            reached = step.t1
        if peak > celsius(100) and step.c1 <= celsius(70):
            answers.append(reheat_answer(rising_from, reached, dish.end))
            rising_from, peak, held, reached, low = None, None, 0.0, None, step.c1
    if rising_from is not None:
        answers.append(reheat_answer(rising_from, reached, dish.end))
    return answers


def reheat_answer(rising_from, reached, end):
    if reached is not None:
        return "met" if reached - rising_from <= rules.REHEAT_S + 60 else "missed"
    return "missed" if end - rising_from > rules.REHEAT_S else "not-reached"


def holding(dish, hot, chilled=False):
    """Hot: at or above 135 degF; cold: at or below 41 degF; from when it is there, gaps at their worst. `chilled`: it
    comes from above by its cooling rule, which has the time before; it is there when noise no longer lifts it out."""
    limit = celsius(rules.HOT_HOLD_DEGF if hot else rules.COLD_HOLD_DEGF)

    def wrong(c, margin):
        return c < limit - margin if hot else c > limit + margin

    there = [t for t, c in dish.readings if not wrong(c, ROUND_K)]
    comes_from_above = chilled and dish.seen() and wrong(dish.readings[0][1], ROUND_K)
    if comes_from_above:
        there = [t for t, c in dish.readings if not wrong(c, -CHILLED_K)] or there
    if not there:
        return "unknown" if not dish.seen() or dish.unread_first else "missed"
    if any(wrong(c, 0.15) for t, c in dish.readings if t > there[0]):
        return "missed"
    if dish.unread_first > (60 if not dish.lenient else evidence.SHORT_GAP_S) and not comes_from_above:
        return "unknown"
    if dish.unread_last > (60 if not dish.lenient else evidence.SHORT_GAP_S):
        return "unknown"
    for step in dish.steps:
        low, high = dish.bounds(step)
        if step.gap and step.t0 >= there[0] and wrong(low if hot else high, 0.3):
            return "unknown"
    return "met"


def cooled_until(dish, word):
    """Food Code 3-501.16(A) leaves out the time of cooling: until when the last limit allows what begins warm or hot,
    and falls, to be above it. Not beyond the moment it is cold."""
    rule = rules.COOLING[word]
    if not dish.seen() or dish.readings[0][1] <= celsius(41) + 15:
        return 0.0
    limit = celsius(rules.COLD_HOLD_DEGF)
    begin = next((t for t, c in dish.readings if c < celsius(rule.from_degf)), dish.end)
    cold = next((t for t, c in dish.readings if t >= begin and c <= limit), dish.end)
    return min(cold, begin + rule.stages[-1][1])


def beyond_in_a_day_s(dish, hot, since=0.0):
    """The most seconds beyond the holding limit that were read within any 24 h, after `since`."""
    limit = celsius(rules.HOT_HOLD_DEGF if hot else rules.COLD_HOLD_DEGF)
    pieces = [(s.t0, s.t1, s.length() - s.seconds_above(limit) if hot else s.seconds_above(limit))
              for s in dish.steps if not s.gap and s.t0 >= since]
    most, total, back = 0.0, 0.0, 0
    for t0, t1, seconds in pieces:
        total += seconds
        while pieces[back][1] < t1 - 24 * rules.HOUR:
            total -= pieces[back][2]
            back += 1
        most = max(most, total)
    return most
