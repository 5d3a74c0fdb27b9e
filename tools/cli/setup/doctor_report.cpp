#include "tools/cli/setup/doctor_report.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <fstream>
#include <iterator>
#include <memory>

#include "config/plain_text.hpp"
#include "daemon/wiring/kitchen_file.hpp"
#include "tools/cli/past/book.hpp"
#include "tools/cli/setup/masked.hpp"
#include "tools/cli/time/local_time.hpp"

namespace ingle::cli {
namespace {

constexpr std::size_t most_bytes = 256 << 10;  // of one file that is shown
constexpr std::size_t most_files = 30, most_events = 200;
constexpr char const* journal =
    "journalctl --unit=ingled --lines=200 --no-pager --output=short-iso 2>/dev/null";

std::string first_of(std::filesystem::path const& path) {
    std::ifstream in(path, std::ios::binary);
    std::string text(most_bytes, '\0');
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(std::max<std::streamsize>(0, in.gcount())));
    return text;
}

std::string line_with(std::filesystem::path const& path, std::string const& begins) {
    std::ifstream in(path);
    for (std::string line; std::getline(in, line);)
        if (line.starts_with(begins)) return line.substr(begins.size());
    return "";
}

class Report {
public:
    Report(Context const& context, std::string file) : context_(context), file_(std::move(file)) {}

    std::string make(std::string const& findings) {
        part("ingle doctor --report", "Secrets are left out. Read it before you hand it on.");
        versions();
        auto const settings = kitchen_files();  // first: it learns what must not be told
        part("findings", masked_words(findings, secrets_));
        out_ += settings;
        logbook();
        log_lines();
        return plain_text(out_);
    }

private:
    void part(std::string const& title, std::string const& text) {
        out_ += "== " + title + "\n" + text + (text.empty() || text.back() != '\n' ? "\n\n" : "\n");
    }

    void versions() {
        std::string text = "ingle " INGLE_VERSION "\n";
        text += "system: " + line_with("/etc/os-release", "PRETTY_NAME=") + "\n";
        text += "kernel: " + line_with("/proc/sys/kernel/ostype", "") + " " +
                line_with("/proc/sys/kernel/osrelease", "") + "\n";
        text += "it is " + local_iso(wall_now()) + "; up for " + line_with("/proc/uptime", "") + " s\n";
        part("versions, clock and boot", text);
    }

    std::string shown(std::filesystem::path const& path, bool sound) {
        auto const masked = masked_settings(first_of(path), sound);
        secrets_.insert(secrets_.end(), masked.secrets.begin(), masked.secrets.end());
        return "== " + path.string() + (sound ? "" : " (it has mistakes: no value of it is shown)") + "\n" +
               masked.text + "\n";
    }

    std::string kitchen_files() {
        if (file_.empty()) return "== kitchen file\nNo daemon runs that would say which it is.\n\n";
        std::filesystem::path const kitchen(file_);
        auto text = shown(kitchen, load_kitchen_for_use(kitchen).errors.empty());
        std::vector<std::filesystem::path> plans;
        std::error_code error;
        for (auto const& folder : {kitchen.parent_path(), kitchen.parent_path() / "plans"})
            for (std::filesystem::directory_iterator at(folder, error), end; !error && at != end;
                 at.increment(error))
                if (at->path().extension() == ".toml" && at->path().filename() != kitchen.filename())
                    plans.push_back(at->path());
        std::ranges::sort(plans);
        plans.resize(std::min(plans.size(), most_files));
        for (auto const& plan : plans) text += shown(plan, is_plan(plan));
        return text;
    }
    // Another file that lies there may hold anything under any key.
    static bool is_plan(std::filesystem::path const& path) {
        auto const text = first_of(path);
        return text.find("[[stage]]") != std::string::npos && text.find("[[channel]]") == std::string::npos &&
               text.find("\"\"\"") == std::string::npos && text.find("'''") == std::string::npos;
    }

    void logbook() {
        std::error_code error;
        std::string text;
        for (auto const* ending : {"", "-wal", "-shm"}) {
            auto const path = context_.logbook().string() + ending;
            auto const size = std::filesystem::file_size(path, error);
            if (!error) text += path + ": " + std::to_string(size) + " bytes\n";
        }
        // SQLite's file format: the user version, four bytes, the highest first.
        auto const head = first_of(context_.logbook());
        constexpr std::size_t at = 60;
        if (head.size() >= at + 4) {
            unsigned version = 0;
            for (std::size_t i = 0; i < 4; ++i)
                version = version * 256 + static_cast<unsigned char>(head[at + i]);
            text += "schema " + std::to_string(version) + "\n";
        }
        try {
            Book book(context_, "");
            auto boots = book.reader().boots();
            constexpr std::size_t most_boots = 10;
            if (boots.size() > most_boots) boots.erase(boots.begin(), boots.end() - most_boots);
            for (auto const& boot : boots)
                text += "boot " + std::to_string(boot.id) + ": " + local_iso(boot.first.wall) + " to " +
                        local_iso(boot.last.wall) + (boot.certain ? "" : ", clock uncertain") + "\n";
            part("logbook", masked_words(text, secrets_));
            events(book);
        } catch (Failure const& failure) {
            part("logbook", masked_words(text + failure.what(), secrets_));
        }
    }

    void events(Book& book) {
        auto const now = wall_now();
        std::vector<logbook::EventRow> rows;
        // As far back as it takes, a week at least.
        for (auto const back : {std::chrono::hours(24 * 7), std::chrono::hours(24 * 400)}) {
            rows = book.reader().events({now - back, now + std::chrono::hours(24)});
            book.check();
            if (rows.size() >= most_events) break;
        }
        if (rows.size() > most_events)
            rows.erase(rows.begin(), rows.end() - static_cast<std::ptrdiff_t>(most_events));
        std::string text;
        for (auto const& row : rows)
            // What somebody noted is theirs.
            text += local_iso(row.at.wall) + " " + row.name + " " + row.subject + ": " +
                    (row.name == "note" ? "(" + std::to_string(row.text.size()) + " letters)" : row.text) +
                    "\n";
        part("last events", masked_words(text, secrets_));
    }

    void log_lines() {
        std::string text;
        std::unique_ptr<FILE, int (*)(FILE*)> const pipe(popen(journal, "re"), pclose);
        std::array<char, 4096> buffer{};
        while (pipe && text.size() < most_bytes) {
            auto const read = fread(buffer.data(), 1, buffer.size(), pipe.get());
            if (read == 0) break;
            text.append(buffer.data(), read);
        }
        part("last lines of the log", text.empty() ? "The journal has none, or may not be read by this user."
                                                   : masked_words(text, secrets_));
    }

    Context const& context_;
    std::string file_;
    std::string out_;
    std::vector<std::string> secrets_;
};

}  // namespace

std::string doctor_report(Context const& context, std::string const& findings,
                          std::string const& kitchen_file) {
    return Report(context, kitchen_file).make(findings);
}

void write_private(std::string const& path, std::string const& text) {
    int const file = open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0600);
    if (file < 0 && errno == EEXIST)
        throw Failure(
            path + " is there already: it is not written over. Give another name, or remove it first",
            wrong_usage);
    if (file < 0) throw Failure("cannot write " + path + ": " + std::strerror(errno));
    std::string_view left(text);
    while (!left.empty()) {
        auto const written = write(file, left.data(), left.size());
        if (written < 0 && errno == EINTR) continue;
        if (written <= 0) break;
        left.remove_prefix(static_cast<std::size_t>(written));
    }
    bool const closed = close(file) == 0;
    if (!left.empty() || !closed) throw Failure("cannot write all of " + path);
}

}  // namespace ingle::cli
