"""What of a core probe's readings may count: steps between readings that can be one core's, and gaps.

A reading is (t, degC or None). The filter knows nothing of the truth. It is offline, simple and cautious: it
cuts the series where it moves faster than a core can, and keeps the longest chain of pieces that one core
could have gone through; everything else is a gap."""
from dataclasses import dataclass

import rules

NOISE_K = 0.6          # what noise and rounding may add between two readings
SPIKE_K = 3.0          # a single reading this far from both neighbours, which agree
CALM_K_PER_S = 2 / 60  # what a core is taken to do while its probe is elsewhere
BACK_K = 2.0
LOOK_BACK_S = 60       # a jump is looked for over this long, since a probe follows with a lag
SHORT_GAP_S = 30 * 60.0


@dataclass(frozen=True)
class Step:
    """From one accepted reading to the next; `gap`: nothing was read between them."""
    t0: float
    c0: float
    t1: float
    c1: float
    gap: bool

    def length(self):
        return self.t1 - self.t0

    def crossing(self, level):
        if self.c1 == self.c0:
            return self.t0
        return self.t0 + (level - self.c0) / (self.c1 - self.c0) * (self.t1 - self.t0)

    def seconds_above(self, level):
        """Of a measured line, at or above the level."""
        low, high = sorted((self.c0, self.c1))
        if low >= level:
            return self.length()
        if high < level:
            return 0.0
        return self.length() * (high - level) / (high - low)


def cadence_s(times):
    apart = sorted(b - a for a, b in zip(times, times[1:]) if b > a)
    return apart[len(apart) // 2] if apart else 1.0


def longest_step_s(times):
    """Readings further apart than this leave a gap: three times the recording's own rhythm, at least a minute."""
    return max(60.0, 3 * cadence_s(times)) + 0.5


def without_spikes(readings):
    """Single readings that neither neighbour bears out are dropped."""
    kept = []
    for i, (t, c) in enumerate(readings):
        if 0 < i < len(readings) - 1:
            before, after = readings[i - 1][1], readings[i + 1][1]
            if abs(before - after) < SPIKE_K and min(abs(c - before), abs(c - after)) > SPIKE_K:
                continue
        kept.append((t, c))
    return kept


def pieces_of(readings, fastest):
    """Cut at jumps: (t, c) lists within which nothing moves faster than a core can."""
    cuts, back = set(), 0
    for i in range(1, len(readings)):
        t, c = readings[i]
        while readings[back][0] < t - LOOK_BACK_S and back < i - 1:
            back += 1
        for j in range(back, i):
            if abs(c - readings[j][1]) > fastest * (t - readings[j][0]) + NOISE_K:
                cuts.update(range(j + 1, i + 1))
                break
    pieces, piece = [], []
    for i, reading in enumerate(readings):
        if i in cuts and piece:
            pieces.append(piece)
            piece = []
        piece.append(reading)
    if piece:
        pieces.append(piece)
    return [p for p in pieces if len(p) > 1 or len(pieces) == 1]


def equals_medium(piece, medium):
    """A "core" that has its medium's temperature from its first reading on is no evidence of a core."""
    if not medium:
        return False
    near, i = 0, 0
    for t, c in piece:
        while i + 1 < len(medium) and medium[i + 1][0] <= t:
            i += 1
        near += abs(c - medium[i][1]) < 1.5
    first = next((m for m in reversed(medium) if m[0] <= piece[0][0]), medium[0])
    return near > 0.8 * len(piece) and abs(piece[0][1] - first[1]) < 2.5


def can_follow(a, b):
    """Could one core have ended piece a and begun piece b?"""
    elapsed = b[0][0] - a[-1][0]
    return abs(b[0][1] - a[-1][1]) <= BACK_K + CALM_K_PER_S * elapsed


def filtered(readings, medium, thickness_m):
    """The readings that may count, by the readings alone. None where two stories are as likely."""
    good = without_spikes([(t, c) for t, c in readings if c is not None])
    if not good:
        return []
    pieces = pieces_of(good, rules.fastest_k_per_s(thickness_m))
    pieces = [p for p in pieces if p[0][1] <= 101 and not equals_medium(p, medium)]
    best = []  # per piece: (seconds, chain) of the longest chain that ends with it
    for n, piece in enumerate(pieces):
        seconds, chain = piece[-1][0] - piece[0][0], [n]
        options = [best[k] for k in range(n) if can_follow(pieces[k], piece)]
        if options:
            longest = max(options, key=lambda o: o[0])
            seconds, chain = seconds + longest[0], longest[1] + chain
        best.append((seconds, chain))
    if not best:
        return []
    chain = max(best, key=lambda b: b[0])
    rest = sum(p[-1][0] - p[0][0] for n, p in enumerate(pieces) if n not in chain[1])
    if rest > 0.2 * chain[0]:
        return []
    return [reading for n in chain[1] for reading in pieces[n]]


def steps_of(accepted, longest_s):
    """Steps between accepted readings; further apart than the cadence allows is a gap."""
    return [Step(t0, c0, t1, c1, t1 - t0 > longest_s)
            for (t0, c0), (t1, c1) in zip(accepted, accepted[1:]) if t1 > t0]


def bounds(step, fastest, lenient):
    """(lowest, highest) degC that a core may have had within a step. Lenient: in half an hour without readings
    it has hardly left what lies between its two ends."""
    low, high = sorted((step.c0, step.c1))
    if not step.gap:
        return low, high
    if lenient and step.length() <= SHORT_GAP_S:
        return low - 0.1, high + 0.1
    reach = fastest * step.length()
    return max(-40.0, (step.c0 + step.c1 - reach) / 2), min(150.0, (step.c0 + step.c1 + reach) / 2)
