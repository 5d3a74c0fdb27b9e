// Field-case D10: a user without write permission reads the logbook.
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <memory>

#include "support.hpp"
#include "tests/support/catch.hpp"

using namespace ingle;
using namespace ingle::logbook;
using namespace ingle::logbook::testing;

// field case D10
TEST_CASE("D10: another user reads the file in a directory that he cannot write") {
#if defined(__SANITIZE_THREAD__)
    return;
#endif
    Scratch dir;
    chmod(dir.path().c_str(), 0755);
    auto const options = options_for(dir / "l.db");
    bool const running = GENERATE(true, false);
    // The other user is forked before the writer's thread starts: a fork beside a running thread may inherit
    // a lock that nobody will ever give back.
    int ready[2];
    REQUIRE(pipe(ready) == 0);
    auto const child = fork();
    if (child == 0) {
        close(ready[1]);
        char go = 0;
        if (read(ready[0], &go, 1) != 1) _exit(8);
        if (geteuid() == 0 && setuid(65534) != 0) _exit(9);
        if (geteuid() != 0 && access(dir.path().c_str(), W_OK) == 0) chmod(dir.path().c_str(), 0555);
        Reader reader(options.path);
        auto const n = reader.history({"stock", everything(), Span(0), false}).points.size();
        _exit(n == 10 && reader.failure().empty()                           ? 0
              : reader.failure().find("daemon's user") != std::string::npos ? 3
                                                                            : 4);
    }
    close(ready[0]);
    auto writer = std::make_unique<Writer>(options, Callbacks{});
    writer->resume();
    for (int i = 0; i < 10; ++i) writer->record(good(0, 2000 + 1000 * i, 85));
    REQUIRE(writer->flush(Span(5000)));
    if (!running) writer.reset();
    REQUIRE(write(ready[1], "g", 1) == 1);
    close(ready[1]);
    int status = 0;
    waitpid(child, &status, 0);
    chmod(dir.path().c_str(), 0755);
    REQUIRE(WIFEXITED(status));
    CHECK((WEXITSTATUS(status) == 0 || (running && WEXITSTATUS(status) == 3)));
}
