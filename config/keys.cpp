#include "config/keys.hpp"

#include <array>

namespace ingle {
namespace {

constexpr std::array kitchen_keys{
    KeyHelp{"name", "\"village hall\"", "the kitchen's name, in notices and on the page; else \"kitchen\""},
    KeyHelp{"units", "\"degF\"", "degF or degC: what you are shown; else degC"},
    KeyHelp{"altitude", "\"240 m\"",
            "above the sea, for the boiling point; else learnt when something boils"},
    KeyHelp{"pressure", "\"985 hPa\"", "of the air where the kitchen stands; used before the altitude"},
    KeyHelp{"logbook", "\"logbook.db\"", "the file of the record, in the state folder"},
    KeyHelp{"keep-readings", "\"400 days\"",
            "older readings outside cooks are thinned to a minute; else all are kept"},
    KeyHelp{"zone", "\"America/New_York\"", "the time zone that you are shown; else the machine's"},
    KeyHelp{"awake", "[\"06:30\", \"23:00\"]",
            "when somebody is there; `ingle schedule` plans no hands outside it; else always"},
    KeyHelp{"cooling-rule", "\"food-code\"",
            "the rule by which cooling is judged: food-code, food-code-140, fsis, fsis-1, fsis-2 or fsis-3; "
            "else food-code"},
};
constexpr std::array probe_keys{
    KeyHelp{"name", "\"stock\"", "lower-case letters, digits and '-'", true},
    KeyHelp{"driver", "\"serial-line\"",
            "how it is read; the further keys are the driver's: `ingle explain driver`", true},
    KeyHelp{"every", "\"1 s\"", "between two readings, from 100 ms to 1 h; else 1 s"},
    KeyHelp{"plausible", "[\"0 degF\", \"600 degF\"]",
            "a value outside is a fault of the probe; else what its vessel or dish can have"},
    KeyHelp{"calibration", "[{ reads = \"33.1 degF\", is = \"32 degF\" }]",
            "one or two points; `ingle probe calibrate` finds them; else none"},
};
constexpr std::array vessel_keys{
    KeyHelp{"name", "\"stockpot\"", "lower-case letters, digits and '-'", true},
    KeyHelp{"kind", "\"pot\"", "pot, bath, smoker, oven, fridge, hot-box or room", true},
    KeyHelp{"medium", "\"stock\"", "the probe in its liquid or air; else it is not watched"},
    KeyHelp{"more", "[\"stock-below\"]", "further probes in the same medium"},
    KeyHelp{"door", "\"lid\"", "the probe that is a switch at its door or lid"},
    KeyHelp{"band", "[\"180 degF\", \"190 degF\"]",
            "what it is to be held between, whatever cooks in it; else what the stage or `ingle hold` says"},
    KeyHelp{"deadband", "\"1 degF\"",
            "so far back inside before an alarm of the band is over; else a tenth of the band's width"},
    KeyHelp{"on-delay", "\"30 s\"",
            "so long outside the band before it is an alarm; else by the kind of vessel"},
    KeyHelp{"off-delay", "\"30 s\"",
            "so long back inside before the alarm is over; else by the kind of vessel"},
    KeyHelp{"look-ahead", "\"15 min\"",
            "how far ahead a warning may look that it leaves its band; else by the kind of vessel"},
    KeyHelp{"reach-within", "\"1 h\"",
            "when the band should be reached; later is an alarm; else by the kind of vessel"},
    KeyHelp{"salt", "\"0.8 %\"", "of the liquid, by mass: it raises the boiling point; else none"},
    KeyHelp{"liquid", "\"water\"",
            "water (stock, milk, brine), syrup or fat, of a pot or a bath; else water"},
    KeyHelp{"room-for", "2", "dishes at once, for `ingle schedule`; else 1"},
};
constexpr std::array dish_keys{
    KeyHelp{"name", "\"goose-roll\"", "lower-case letters, digits and '-'", true},
    KeyHelp{"vessel", "\"stockpot\"", "where it cooks, unless a stage of its plan says otherwise", true},
    KeyHelp{"core", "\"goose-core\"", "the probe in its thickest part; without one the core is never known"},
    KeyHelp{"more-cores", "[\"goose-core-2\"]", "further probes in it; the one that lags decides"},
    KeyHelp{"food", "\"ground-poultry\"",
            "its class, which the food rules go by: `ingle explain food`; else it is taken for perishable"},
    KeyHelp{"preparation", "[\"injected\"]",
            "what was done to it: ground, stuffed, injected, tenderised, cured, nitrite, vacuum-packed, "
            "under-fat, served-raw or frozen"},
    KeyHelp{"shape", "\"cylinder\"", "slab, cylinder or sphere, for the forecast"},
    KeyHelp{"thickness", "\"9 cm\"", "at its thickest, for the forecast"},
    KeyHelp{"mass", "\"4 lb\"", "for the forecast"},
    KeyHelp{"plan", "\"poach\"",
            "its stages: a plan file beside this one, or one that comes with Ingle: "
            "`ingle explain plan`"},
    KeyHelp{"serve-at", "\"2026-11-26T17:00:00-05:00\"",
            "when it is to be on the table; `ingle dish NAME --serve-at \"5 pm\"` writes it"},
    KeyHelp{"cooling-rule", "\"fsis\"", "as that of the kitchen, for this dish"},
};
constexpr std::array channel_keys{
    KeyHelp{"name", "\"phone\"", "lower-case letters, digits and '-'", true},
    KeyHelp{"kind", "\"webhook\"", "how it is sent; the further keys are the kind's: `ingle explain channel`",
            true},
    KeyHelp{"least", "\"medium\"", "the least priority that is sent: low, medium or high; else low"},
    KeyHelp{"after", "\"5 min\"", "only what nobody has acknowledged for so long; else at once"},
};
constexpr std::array serve_keys{
    KeyHelp{"tcp", "true", "false: no page and no API over the network, only the local socket; else true"},
    KeyHelp{"address", "\"127.0.0.1\"", "where the page and the API are; else this machine only"},
    KeyHelp{"port", "8094", "from 1 to 65535; else 8094"},
    KeyHelp{"token-file", "\"page.token\"",
            "the file with the token that changes from the page need; it must be readable by its owner only"},
    KeyHelp{"token-env", "\"INGLE_TOKEN\"", "or the environment variable that has it"},
};
constexpr std::array plan_keys{
    KeyHelp{"name", "\"poach\"", "what dishes call it by", true},
    KeyHelp{"stage", "", "its stages in their order, each begun with [[stage]]", true},
};
constexpr std::array stage_keys{
    KeyHelp{"name", "\"poach\"", "lower-case letters, digits and '-'", true},
    KeyHelp{"does", "\"cook\"",
            "what it does to the food, which the food rules go by: cook, brine, chill, hot-hold, cold-hold, "
            "rest, "
            "thaw or reheat; else cook"},
    KeyHelp{"vessel", "\"fridge\"", "where, or \"none\" where no vessel is needed; else the dish's vessel"},
    KeyHelp{"band", "[\"180 degF\", \"190 degF\"]", "what the vessel is held between meanwhile"},
    KeyHelp{"until", "{ core = \"165 degF\", time = \"2 h\" }",
            "what ends it, all that is said; without it `ingle next` does"},
    KeyHelp{"at-least", "\"1 h\"", "it does not end before, whatever `until` says"},
    KeyHelp{"at-most", "\"4 h\"", "you are told when it takes longer"},
    KeyHelp{"core-most", "\"190 degF\"", "you are told before the core passes it"},
    KeyHelp{"hands", "\"15 min\"",
            "how long the cook is needed at its start, for `ingle schedule`; else none. Said, it decides "
            "whether the end of the stage before rings in quiet hours"},
    KeyHelp{
        "counts", "\"from-band\"",
        "whether its time counts from-band (once the band is reached) or from-begin; else from-band where "
        "there is a band"},
    KeyHelp{"excursion", "\"10 min\"",
            "out of the band, or unread, for so long in one go its time counts on; else a tenth of its time, "
            "at most 10 min"},
};
constexpr std::array until_keys{
    KeyHelp{"core", "\"165 degF\"", "the core has been seen there"},
    KeyHelp{"time", "\"2 h\"", "so much time has counted"},
    KeyHelp{"lethality", "7.0", "log10 reduction by the published table of the food class, at most 7"},
};

constexpr std::array in_kitchen{
    SectionHelp{"kitchen", "[kitchen]", "the kitchen as a whole, once", kitchen_keys},
    SectionHelp{"probe", "[[probe]]", "a sensor, as often as there are probes", probe_keys},
    SectionHelp{"vessel", "[[vessel]]", "a pot, smoker, oven, fridge or room that is watched", vessel_keys},
    SectionHelp{"dish", "[[dish]]", "a food and how it is cooked", dish_keys},
    SectionHelp{"channel", "[[channel]]", "a way for notices to reach somebody", channel_keys},
    SectionHelp{"serve", "[serve]", "the page and the API, once", serve_keys},
};
constexpr std::array in_plan{
    SectionHelp{"plan", "", "the plan as a whole, at the top of the file", plan_keys},
    SectionHelp{"stage", "[[stage]]", "a stage, in the order in which they come", stage_keys},
    SectionHelp{"until", "until = { ... }", "what a stage waits for", until_keys},
};

}  // namespace

std::span<SectionHelp const> kitchen_sections() {
    return in_kitchen;
}
std::span<SectionHelp const> plan_sections() {
    return in_plan;
}

}  // namespace ingle
