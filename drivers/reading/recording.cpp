#include "drivers/reading/recording.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "config/civil_time/iso_time.hpp"

namespace ingle {
namespace {

constexpr std::size_t most_errors = 20;
constexpr double absolute_zero = -273.15;
constexpr Span longest_gap{31 * 86'400'000LL};  // nothing cooks so long unread: a mistyped year
constexpr double longest_s = 1e9;               // 30 years: more is a date in a column of seconds

std::optional<double> number_from(std::string_view text) {
    double value = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

// RFC 4180: fields between commas, in quotes if they hold a comma, a quote ("" then) or a line end.
class Fields {
public:
    explicit Fields(std::string_view text) : rest_(text) {
        if (rest_.starts_with("\xEF\xBB\xBF")) rest_.remove_prefix(3);
        line_start_ = rest_.data();
    }
    bool done() const { return rest_.empty(); }
    bool last_of_row() const { return last_; }
    bool sound() const { return sound_; }
    int line() const { return line_; }
    int column() const { return column_; }

    // The next field; valid until the next call.
    std::string_view next() {
        last_ = false;
        column_ = static_cast<int>(rest_.data() - line_start_) + 1;
        line_ = next_line_;
        return rest_.starts_with('"') ? quoted() : plain();
    }
    void skip_row() {
        while (!last_ && !done()) next();
    }
    bool at_empty_line() const { return last_ && (rest_.starts_with('\n') || rest_.starts_with("\r\n")); }
    void skip_line() { rest_.remove_prefix(rest_.find('\n') + 1), ++next_line_, line_start_ = rest_.data(); }

private:
    std::string_view plain() {
        std::size_t end = 0;
        while (end < rest_.size() && rest_[end] != ',' && rest_[end] != '\n') ++end;
        auto field = rest_.substr(0, end);
        sound_ = field.find('"') == std::string_view::npos;
        rest_.remove_prefix(field.size());
        if (field.ends_with('\r') && !rest_.starts_with(',')) field.remove_suffix(1);
        end_field();
        return field;
    }

    std::string_view quoted() {
        rest_.remove_prefix(1);
        buffer_.clear();
        sound_ = false;
        while (!rest_.empty()) {
            char const c = rest_.front();
            rest_.remove_prefix(1);
            if (c == '"') {
                if (!rest_.starts_with('"')) {
                    sound_ = true;
                    break;
                }
                rest_.remove_prefix(1);
            }
            if (c == '\n') ++next_line_, line_start_ = rest_.data();
            buffer_ += c;
        }
        if (rest_.starts_with("\r\n")) rest_.remove_prefix(1);
        if (!rest_.empty() && !rest_.starts_with(',') && !rest_.starts_with('\n')) {
            sound_ = false;
            rest_.remove_prefix(std::min(rest_.size(), rest_.find_first_of(",\n")));
        }
        end_field();
        return buffer_;
    }

    void end_field() {
        last_ = !rest_.starts_with(',');
        if (rest_.starts_with('\n')) ++next_line_, line_start_ = rest_.data() + 1;
        if (!rest_.empty()) rest_.remove_prefix(1);
        // A comma at the very end of the text is followed by one more, empty field.
        if (rest_.empty() && !last_) trailing_ = true;
    }

public:
    bool take_trailing() { return std::exchange(trailing_, false); }

private:
    std::string_view rest_;
    std::string buffer_;
    char const* line_start_;
    int next_line_ = 1, line_ = 1, column_ = 1;
    bool last_ = true, sound_ = true, trailing_ = false;
};

class Parser {
public:
    explicit Parser(std::string_view text) : fields_(text), size_(text.size()) {}

    ParsedRecording parse() {
        if (fields_.done())
            fail("the recording is empty; its first line must be the header, beginning with time");
        else
            header();
        if (out_.errors.empty()) {
            // A guess that is good for rows of equal width, so that the vectors rarely grow.
            auto const guess = size_ / (8 + 6 * columns_.size());
            out_.recording.times.reserve(guess);
            out_.recording.cells.reserve(guess * out_.recording.columns.size());
            while (!fields_.done() && out_.errors.size() < most_errors) {
                if (fields_.at_empty_line())
                    fields_.skip_line();
                else
                    row();
            }
        }
        return std::move(out_);
    }

private:
    enum class Role { time, probe, note };

    void fail(std::string what) {
        if (out_.errors.size() < most_errors)
            out_.errors.push_back({fields_.line(), fields_.column(), std::move(what)});
    }
    static std::string in_quotes(std::string_view text) {
        return '"' + std::string(text.substr(0, 40)) + '"';
    }

    void header() {
        do {
            auto const field = fields_.next();
            if (!fields_.sound()) fail("a quote is not where RFC 4180 allows it");
            if (columns_.empty()) {
                if (field != "time") fail("the first column is " + in_quotes(field) + ", it must be time");
                columns_.push_back(Role::time);
            } else if (field == "note") {
                if (std::ranges::count(columns_, Role::note)) fail("there are two note columns");
                columns_.push_back(Role::note);
            } else {
                probe_column(field);
                columns_.push_back(Role::probe);
            }
        } while (!fields_.last_of_row() && !fields_.done());
        if (fields_.take_trailing()) fail("the header ends with a comma");
        if (out_.recording.columns.empty()) fail("there is no column of a probe, like stock [degF]");
    }

    void probe_column(std::string_view field) {
        struct Unit {
            std::string_view written;
            Scale scale;
            double zero_c = 0;
        };
        static constexpr Unit units[] = {{" [degC]", Scale::celsius},
                                         {" [degF]", Scale::fahrenheit},
                                         {" [\u00b0C]", Scale::celsius},
                                         {" [\u00b0F]", Scale::fahrenheit},
                                         {" [K]", Scale::celsius, absolute_zero}};
        auto const* const unit =
            std::ranges::find_if(units, [&](Unit const& one) { return field.ends_with(one.written); });
        if (unit == std::end(units))
            return fail("the column " + in_quotes(field) +
                        " does not say its unit; write it like stock [degF] or stock [degC]");
        Recording::Column column;
        column.scale = unit->scale;
        column.name = field.substr(0, field.size() - unit->written.size());
        zeros_.push_back(unit->zero_c);
        if (column.name.empty()) fail("a column has no name");
        if (out_.recording.column(column.name) >= 0)
            fail("there are two columns of the name " + in_quotes(column.name));
        out_.recording.columns.push_back(std::move(column));
    }

    void row() {
        auto& recording = out_.recording;
        std::size_t number = 0, probe = 0;
        bool good = true;
        do {
            auto const field = fields_.next();
            if (number == columns_.size()) {
                fail("the row has more cells than the header has columns");
                fields_.skip_row();
                good = false;
                break;
            }
            if (!fields_.sound()) fail("a quote is not where RFC 4180 allows it");
            switch (columns_[number++]) {
                case Role::time:
                    good = time(field) && good;
                    break;
                case Role::probe:
                    recording.cells.push_back(cell(field, probe++));
                    break;
                case Role::note:
                    if (!field.empty()) recording.notes.emplace_back(recording.rows() - 1, field);
                    break;
            }
        } while (!fields_.last_of_row() && !fields_.done());
        if (fields_.take_trailing()) {
            if (number < columns_.size() && columns_[number] == Role::probe) recording.cells.emplace_back();
            ++number;
        }
        if (good && number != columns_.size())
            fail("the row has " + std::to_string(number) + " cells, the header " +
                 std::to_string(columns_.size()) + " columns");
        recording.cells.resize(recording.rows() * recording.columns.size());
    }

    // One row is one time, also if it cannot be read: the cells must stay in step.
    bool time(std::string_view field) {
        auto& recording = out_.recording;
        auto const previous = recording.times.empty() ? Span::min() : recording.times.back();
        std::optional<Span> at;
        bool const first = recording.times.empty();
        if (auto const s = number_from(field); s && (first || !recording.start)) {
            if (*s >= 0 && *s < longest_s) at = from_seconds(*s);
        } else if (auto const wall = parse_iso_time(field); wall && (first || recording.start)) {
            if (!recording.start) recording.start = *wall;
            at = *wall - *recording.start;
        }
        recording.times.push_back(at.value_or(first ? Span(0) : previous));
        if (!at)
            fail(in_quotes(field) + (recording.start
                                         ? " is no time with an offset, like the rows before"
                                         : " is neither seconds from the start nor an ISO 8601 time "
                                           "with an offset"));
        else if (!first && *at - previous > longest_gap)
            fail("the time " + in_quotes(field) + " is " +
                 std::to_string((*at - previous) / Span(86'400'000)) +
                 " days after that of the row above; is the date right?");
        else if (*at < previous)
            fail("the time " + in_quotes(field) + " is before that of the row above");
        return at.has_value();
    }

    Cell cell(std::string_view field, std::size_t probe) {
        if (field.empty()) return {};
        bool const plus = field.size() > 1 && field[0] == '+' && field[1] != '-';
        if (auto const value = number_from(field.substr(plus ? 1 : 0))) {
            bool const fahrenheit = out_.recording.columns[probe].scale == Scale::fahrenheit;
            double const celsius = fahrenheit ? (*value - 32.0) * 5.0 / 9.0 : *value + zeros_[probe];
            if (celsius >= absolute_zero) return celsius;
            fail(in_quotes(field) + " is below absolute zero");
            return {};
        }
        if (field == "open") return FaultKind::open;
        if (field == "short") return FaultKind::short_circuit;
        if (field == "garbled") return FaultKind::garbled;
        fail(in_quotes(field) + " is neither a number (with a point) nor open, short or garbled");
        return {};
    }

    Fields fields_;
    std::size_t size_;
    std::vector<Role> columns_;
    std::vector<double> zeros_;  // of each probe's column, degC
    ParsedRecording out_;
};

// At most `decimals` places and no zeros that say nothing; shortest text that reads back within them.
void append_number(std::string& out, double value, int decimals) {
    char buffer[64];
    auto [end, error] =
        std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, decimals);
    if (error != std::errc{}) {
        end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
    } else {
        while (end[-1] == '0') --end;
        if (end[-1] == '.') --end;
    }
    std::string_view const text(buffer, static_cast<std::size_t>(end - buffer));
    out += text == "-0" ? "0" : text;
}

void append_text(std::string& out, std::string_view text) {
    if (text.find_first_of(",\"\r\n") == std::string_view::npos) {
        out += text;
        return;
    }
    out += '"';
    for (char const c : text) out.append(c == '"' ? 2 : 1, c);
    out += '"';
}

std::string_view word_of(FaultKind kind) {
    switch (kind) {
        case FaultKind::open:
            return "open";
        case FaultKind::short_to_ground:
        case FaultKind::short_to_supply:
        case FaultKind::short_circuit:
            return "short";
        case FaultKind::no_reply:
        case FaultKind::absent:
        case FaultKind::refused:
            return "";
        default:
            return "garbled";
    }
}

}  // namespace

int Recording::column(std::string_view name) const {
    auto const found = std::ranges::find(columns, name, &Column::name);
    return found == columns.end() ? -1 : static_cast<int>(found - columns.begin());
}

std::string RecordingError::text(std::string_view file) const {
    return std::string(file) + ':' + std::to_string(line) + ':' + std::to_string(column) + ": " + what;
}

ParsedRecording parse_recording(std::string_view text) {
    return Parser(text).parse();
}

std::optional<Reading> reading_of(Cell const& cell, Instant at) {
    if (auto const* celsius = std::get_if<double>(&cell)) return Reading::good(at, *celsius);
    if (auto const* kind = std::get_if<FaultKind>(&cell))
        return Reading::faulty(at, *kind, std::string(to_word(*kind)) + " in the recording");
    return std::nullopt;
}

Cell cell_of(Reading const& reading) {
    if (reading.ok()) return reading.celsius();
    auto const kind = reading.fault().kind;
    if (word_of(kind).empty()) return {};
    return kind;
}

void RecordingWriter::header(std::string& out) const {
    out += "time";
    for (auto const& column : columns_) {
        out += ',';
        append_text(out, column.name + (column.scale == Scale::celsius ? " [degC]" : " [degF]"));
    }
    out += notes_ ? ",note\r\n" : "\r\n";
}

void RecordingWriter::row(std::string& out, Span since_start, std::span<Cell const> cells,
                          std::string_view note) const {
    append_number(out, seconds(since_start), 3);
    rest(out, cells, note);
}

void RecordingWriter::row(std::string& out, WallTime at, std::chrono::minutes offset,
                          std::span<Cell const> cells, std::string_view note) const {
    out += iso_time(at, offset);
    rest(out, cells, note);
}

void RecordingWriter::rest(std::string& out, std::span<Cell const> cells, std::string_view note) const {
    for (std::size_t i = 0; i < columns_.size(); ++i) {
        out += ',';
        if (i >= cells.size()) continue;
        if (auto const* celsius = std::get_if<double>(&cells[i]))
            append_number(out, columns_[i].scale == Scale::celsius ? *celsius : *celsius * 9.0 / 5.0 + 32.0,
                          4);
        else if (auto const* kind = std::get_if<FaultKind>(&cells[i]))
            out += word_of(*kind);
    }
    if (notes_) append_text(out += ',', note);
    out += "\r\n";
}

std::string write_recording(Recording const& recording) {
    RecordingWriter const writer(recording.columns, !recording.notes.empty());
    std::string out;
    writer.header(out);
    auto note = recording.notes.begin();
    for (std::size_t i = 0; i < recording.rows(); ++i) {
        std::string text;
        for (; note != recording.notes.end() && note->first == i; ++note)
            text += (text.empty() ? "" : "; ") + note->second;
        if (recording.start)
            writer.row(out, *recording.start + recording.times[i], {}, recording.row(i), text);
        else
            writer.row(out, recording.times[i], recording.row(i), text);
    }
    return out;
}

}  // namespace ingle
