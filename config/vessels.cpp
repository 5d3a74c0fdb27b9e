#include <array>
#include <cmath>
#include <map>
#include <span>

#include "config/no_vessel.hpp"
#include "config/sections.hpp"
#include "config/wall_time.hpp"

namespace ingle {
namespace {

using Words = std::string_view;

constexpr std::array kinds{Words("pot"),    Words("bath"),    Words("smoker"), Words("oven"),
                           Words("fridge"), Words("hot-box"), Words("room")};  // as VesselKind
constexpr std::array liquids{Words("water"), Words("syrup"), Words("fat")};    // as Liquid
constexpr std::array shapes{Words("slab"), Words("cylinder"), Words("sphere")};
constexpr std::array food_classes{Words("ground-poultry"), Words("whole-poultry"), Words("ground-meat"),
                                  Words("whole-meat"),     Words("bear-boar"),     Words("venison"),
                                  Words("fresh-ham"),      Words("cured-ham"),     Words("fish"),
                                  Words("egg-dish"),       Words("stuffed"),       Words("stock"),
                                  Words("vegetable"),      Words("leftover"),      Words("shelf-stable")};

constexpr std::array preparations{
    Words("ground"),  Words("stuffed"),       Words("injected"),  Words("tenderised"), Words("cured"),
    Words("nitrite"), Words("vacuum-packed"), Words("under-fat"), Words("served-raw"), Words("frozen")};

constexpr double most_room = 100;         // dishes in one vessel
constexpr double saturated_brine = 0.27;  // sodium chloride by mass, at kitchen temperatures

template <class Enum>
Enum as_number(std::string_view word, std::span<Words const> words) {
    return static_cast<Enum>(std::ranges::find(words, word) - words.begin());
}

void read_band(Reader& reader, VesselSettings& vessel, std::string const& prefix, Loaded& loaded) {
    vessel.deadband = reader.quantity("deadband", parse_temperature_difference);
    if (vessel.deadband && vessel.deadband->kelvin < 0) {
        reader.wrong("deadband", "is negative", "a difference, like \"1 degF\"");
        vessel.deadband.reset();
    }
    auto const band = reader.range("band");
    if (!band) return;
    vessel.band = Band{band->first, band->second};
    check_band(*vessel.band, vessel, reader.where("band"), prefix + ".band", loaded);
}

void check_size(Reader& reader, DishSettings const& dish) {
    if (dish.thickness && (dish.thickness->metres < 0.001 || dish.thickness->metres > 1))
        reader.wrong("thickness", "is no thickness of a dish", "from 1 mm to 1 m");
    if (dish.mass && (dish.mass->kilograms < 0.001 || dish.mass->kilograms > 300))
        reader.wrong("mass", "is no mass of a dish", "from 1 g to 300 kg");
}

// What was done to the food before it came here: the hazards that are named depend on it.
std::vector<std::string> read_preparation(Reader& reader) {
    auto words = reader.texts("preparation");
    for (auto const& word : words)
        if (std::ranges::find(preparations, word) == preparations.end())
            reader.wrong("preparation", in_quotes(word) + " is not known", "write " + listed(preparations));
    return words;
}

void check_probes(Reader& reader, DishSettings const& dish, Settings const& settings) {
    auto const name = [&](int probe) {
        return in_quotes(settings.probes[static_cast<std::size_t>(probe)].name);
    };
    auto const check = [&](int probe, std::string_view key) {
        for (auto const& vessel : settings.vessels)
            if (probe >= 0 && (vessel.medium == probe || std::ranges::count(vessel.more, probe)))
                reader.wrong(key, name(probe) + " is in the medium of " + in_quotes(vessel.name) + " already",
                             "a probe of its own for the core");
    };
    check(dish.core, "core");
    for (auto const probe : dish.more_cores) {
        check(probe, "more-cores");
        if (probe == dish.core)
            reader.wrong("more-cores", name(probe) + " is the core probe already", "only the others");
    }
    if (dish.core < 0 && !dish.more_cores.empty() && !reader.take("core"))
        reader.wrong("core", "is missing, though there are more-cores", "name the first one as core");
}

// A probe is in one place: what it reads cannot be two vessels' medium.
void refuse_shared_media(std::vector<VesselSettings> const& vessels, std::vector<ProbeSettings> const& probes,
                         std::vector<ConfigError>& errors) {
    std::map<int, std::string> taken;
    for (auto const& vessel : vessels) {
        auto const take = [&](int probe, char const* key) {
            if (probe < 0) return;
            auto const [owner, first] = taken.try_emplace(probe, vessel.name);
            if (first || owner->second == vessel.name) return;
            errors.push_back({vessel.where, "vessel." + vessel.name + '.' + key,
                              in_quotes(probes[static_cast<std::size_t>(probe)].name) + " is in " +
                                  in_quotes(owner->second) + " already",
                              "a probe of its own"});
        };
        take(vessel.medium, "medium");
        for (int const probe : vessel.more) take(probe, "more");
    }
}

}  // namespace

void check_band(Band band, VesselSettings const& vessel, Where const& where, std::string const& key,
                Loaded& loaded) {
    if (auto mistake = mistake_in_band(band, vessel, loaded.settings))
        loaded.errors.push_back({where, key, std::move(mistake->wrong), std::move(mistake->right)});
}

void read_vessels(Node::List const& tables, Loaded& loaded) {
    auto& vessels = loaded.settings.vessels;
    auto const& probes = loaded.settings.probes;
    for (auto const& table : tables) {
        auto const prefix = entry_prefix(table, "vessel", vessels.size());
        Reader reader(table, prefix, loaded.errors);
        VesselSettings vessel;
        vessel.where = table.where;
        vessel.name = read_name(reader);
        if (vessel.name == no_vessel)
            reader.wrong("name", "means that a stage needs no vessel", "call the vessel something else");
        reader.need("kind", "write " + listed(kinds));
        if (auto const kind = reader.word("kind", kinds)) vessel.kind = as_number<VesselKind>(*kind, kinds);
        vessel.medium = reference(reader, "medium", probes, "probe");
        vessel.more = references(reader, "more", probes, "probe");
        if (int const door = reference(reader, "door", probes, "probe"); door >= 0) vessel.door = door;
        if (vessel.medium >= 0 && std::ranges::count(vessel.more, vessel.medium))
            reader.wrong("more", "repeats the probe that is the medium", "only the others");
        vessel.on_delay = reader.quantity("on-delay", parse_duration);
        vessel.off_delay = reader.quantity("off-delay", parse_duration);
        vessel.look_ahead = reader.quantity("look-ahead", parse_duration);
        vessel.reach_within = reader.quantity("reach-within", parse_duration);
        vessel.salt = reader.quantity("salt", parse_fraction).value_or(Fraction{0});
        if (vessel.salt.value < 0 || vessel.salt.value > saturated_brine)
            reader.wrong("salt", "is more than water can hold, or less than none",
                         "from 0 % to 27 % by mass");
        if (auto const liquid = reader.word("liquid", liquids)) {
            vessel.liquid = as_number<Liquid>(*liquid, liquids);
            if (!holds_liquid(vessel.kind))
                reader.wrong("liquid", "belongs to a pot or a bath", "leave it out");
        }
        if (auto const room = reader.number("room-for")) {
            if (*room >= 1 && *room <= most_room && *room == std::floor(*room))
                vessel.room_for = static_cast<int>(*room);
            else
                reader.wrong("room-for", "is no number of dishes", "a whole number from 1 to 100");
        }
        read_band(reader, vessel, prefix, loaded);
        reader.refuse_the_rest();
        vessels.push_back(std::move(vessel));
    }
    refuse_doubles(vessels, "vessel", loaded.errors);
    refuse_shared_media(vessels, probes, loaded.errors);
}

void read_dishes(Node::List const& tables, Loaded& loaded) {
    auto& settings = loaded.settings;
    for (auto const& table : tables) {
        Reader reader(table, entry_prefix(table, "dish", settings.dishes.size()), loaded.errors);
        DishSettings dish;
        dish.where = table.where;
        dish.name = read_name(reader);
        reader.need("vessel", "name the vessel that it is in");
        dish.vessel = reference(reader, "vessel", settings.vessels, "vessel");
        dish.core = reference(reader, "core", settings.probes, "probe");
        dish.more_cores = references(reader, "more-cores", settings.probes, "probe");
        check_probes(reader, dish, settings);
        dish.food = reader.word("food", food_classes).value_or("");
        dish.preparation = read_preparation(reader);
        if (auto const shape = reader.word("shape", shapes))
            dish.shape = *shape == "slab"       ? Shape::slab
                         : *shape == "cylinder" ? Shape::cylinder
                                                : Shape::sphere;
        dish.thickness = reader.quantity("thickness", parse_length);
        dish.mass = reader.quantity("mass", parse_mass);
        check_size(reader, dish);
        dish.plan = reader.text("plan").value_or("");
        if (auto const at = reader.quantity("serve-at", parse_wall_time)) dish.serve_at = at->ms;
        dish.cooling_rule = reader.text("cooling-rule").value_or("");
        if (!dish.cooling_rule.empty()) check_cooling_rule(reader, dish.cooling_rule);
        reader.refuse_the_rest();
        settings.dishes.push_back(std::move(dish));
    }
    refuse_doubles(settings.dishes, "dish", loaded.errors);
}

}  // namespace ingle
