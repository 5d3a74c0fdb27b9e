"""Nobody is told to do opposite things with a dish: what stands for it, or for the vessel that it is in, at one
moment never asks to heat and to chill, and what is to be thrown away is not asked for anything else any more.
What an alarm asks for is what its newest line says; a muted one asks for nothing. An order that was right when it was
given is replaced by a later one to throw the food away."""

WARMS, COOLS, DISCARD = {"raise-heat", "reheat"}, {"lower-heat", "chill"}, "discard"


def opposed(earlier, later, at_once):
    if DISCARD in (earlier, later):
        return earlier != later and (at_once or earlier == DISCARD)
    return (earlier in WARMS and later in COOLS) or (earlier in COOLS and later in WARMS)


def opposite(lines, vessels, dish="d"):
    """(t, one, other) of each pair, as "alarm of subject: order"; `vessels`: names as the kitchen file has them."""
    standing, place, found = {}, None, []
    for line in lines:
        if line["kind"] == "event" and line["event"] == "stage-began" and line["subject"] == dish:
            place = vessels[int(line["vessel"])] if line.get("vessel") is not None else None
        if line["kind"] != "alarm":
            continue
        key = (line["alarm"], line["subject"])
        standing.pop(key, None)
        if line["state"] == "cleared" or not line.get("action") or line.get("muted_by"):
            continue
        for other, (action, t) in standing.items():
            together = key[1] in (dish, place) and other[1] in (dish, place) and dish in (key[1], other[1])
            if together and opposed(action, line["action"], t == line["t"]):
                found.append((line["t"], f"{other[0]} of {other[1]}: {action}",
                              f"{key[0]} of {key[1]}: {line['action']}"))
        standing[key] = (line["action"], line["t"])
    return found
