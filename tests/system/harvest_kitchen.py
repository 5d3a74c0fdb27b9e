"""The vessels, dishes and plans of the harvest supper (harvest_test.py), as its kitchen file has them."""
from kitchen_rig import LONG

VESSELS = {"tub": "fridge", "smoker": "smoker", "hot-box": "hot-box", "pot": "pot", "bath": "pot", "kettle": "pot", "oven": "oven", "fridge": "fridge"}
DISHES = {
    "ham": ("fridge", "bear-boar", "11-26T17:00", 'core = "ham-core"\nshape = "sphere"\nthickness = "10 cm"\nmass = "0.55 kg"\n'),
    "roll": ("pot", "ground-poultry", "11-26T17:15", 'core = "roll-core"\nshape = "cylinder"\nthickness = "8 cm"\nmass = "1.5 kg"\n'),
    "terrine": ("bath", "ground-meat", "11-26T12:30", 'core = "terrine-core"\nshape = "cylinder"\nthickness = "6 cm"\nmass = "0.8 kg"\n'),
    "stock": ("kettle", "stock", "11-26T12:00", ""),
    "pie": ("oven", "vegetable", "11-26T17:30", ""),
}
COLD = 'band = ["33 degF", "41 degF"]\n'
BRINE = 5 * 86400 if LONG else 6 * 3600
CUT = 3 * 3600
PLANS = {
    "ham": [("thaw", 'does = "thaw"\nvessel = "fridge"\n' + COLD + 'at-most = "3 days"\n'),
            ("brine", f'does = "brine"\nvessel = "tub"\n{COLD}until = {{ time = "{BRINE} s" }}\ncounts = "from-begin"\nat-most = "{BRINE + 86400} s"\nhands = "10 min"\n'),
            ("dry", 'does = "cold-hold"\nvessel = "fridge"\n' + COLD + 'at-most = "2 days"\n'),
            ("smoke", 'vessel = "smoker"\nband = ["200 degF", "230 degF"]\nuntil = { core = "165 degF" }\nhands = "10 min"\n'),
            ("keep-hot", 'does = "hot-hold"\nvessel = "hot-box"\nband = ["140 degF", "165 degF"]\nat-least = "15 min"\nat-most = "6 h"\n'),
            ("carve", 'does = "rest"\nvessel = "none"\nuntil = { time = "15 min" }\nhands = "15 min"\n')],
    "roll": [("poach", 'band = ["180 degF", "190 degF"]\nuntil = { core = "165 degF", time = "1 h" }\nat-most = "4 h"\nhands = "5 min"\n'),
             ("keep-hot", 'does = "hot-hold"\nband = ["140 degF", "190 degF"]\nat-most = "1 h"\n')],
    "terrine": [("poach", 'band = ["165 degF", "175 degF"]\nuntil = { core = "160 degF" }\nhands = "10 min"\n'),
                ("chill-fast", 'does = "chill"\nvessel = "fridge"\n' + COLD + 'until = { core = "70 degF" }\nat-most = "2 h"\n'),
                ("chill-through", 'does = "chill"\nvessel = "fridge"\n' + COLD + 'until = { core = "40 degF" }\nat-most = "1 day"\n'),
                ("carve", 'does = "rest"\nvessel = "none"\nuntil = { time = "10 min" }\nhands = "10 min"\n')],
    "stock": [("simmer", 'until = { time = "2 h" }\nat-most = "12 h"\nhands = "10 min"\n'),
              ("strain", 'does = "rest"\nvessel = "none"\nuntil = { time = "15 min" }\nhands = "15 min"\n'),
              ("chill", 'does = "chill"\nvessel = "fridge"\n' + COLD + 'until = { time = "6 h" }\ncounts = "from-begin"\nat-most = "3 days"\n')],
    "pie": [("roll-out", 'does = "rest"\nvessel = "none"\nuntil = { time = "20 min" }\nhands = "20 min"\n'),
            ("dough", 'does = "chill"\nvessel = "fridge"\n' + COLD + 'until = { time = "15 min" }\nat-most = "1 day"\n'),
            ("bake", 'vessel = "oven"\nband = ["385 degF", "415 degF"]\nuntil = { time = "45 min" }\nat-most = "75 min"\nhands = "5 min"\n'),
            ("cool", 'does = "rest"\nvessel = "none"\nuntil = { time = "1 h" }\n')],
}
