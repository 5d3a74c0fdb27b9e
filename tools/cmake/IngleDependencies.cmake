# Everything Ingle links against. Optional parts that are absent switch themselves off with a line that says so.
find_package(Threads REQUIRED)
find_package(PkgConfig REQUIRED)
find_package(Boost 1.74 REQUIRED)
find_package(spdlog REQUIRED)
find_package(nlohmann_json REQUIRED)
find_package(CLI11 REQUIRED)
# The zones of the world: config/civil_time/zone_library.hpp takes the standard library's, where it has them.
include(CheckCXXSourceCompiles)
set(CMAKE_REQUIRED_FLAGS ${CMAKE_CXX20_STANDARD_COMPILE_OPTION})
check_cxx_source_compiles("#include <chrono>
#if !defined(__cpp_lib_chrono) || __cpp_lib_chrono < 201907L
#error none
#endif
int main() { return std::chrono::locate_zone(\"UTC\") == nullptr; }" INGLE_STANDARD_ZONES)
unset(CMAKE_REQUIRED_FLAGS)
if(NOT INGLE_STANDARD_ZONES)
  find_package(date REQUIRED)
  set(INGLE_ZONES date::date-tz)
endif()
pkg_check_modules(SQLITE REQUIRED IMPORTED_TARGET sqlite3)
pkg_check_modules(CURL REQUIRED IMPORTED_TARGET libcurl)
pkg_check_modules(PNG REQUIRED IMPORTED_TARGET libpng)
pkg_check_modules(TOMLPP REQUIRED IMPORTED_TARGET tomlplusplus)
pkg_check_modules(GPIOD IMPORTED_TARGET libgpiodcxx)
pkg_check_modules(MODBUS IMPORTED_TARGET libmodbus)
pkg_check_modules(MOSQUITTO IMPORTED_TARGET libmosquitto)
pkg_check_modules(SYSTEMD IMPORTED_TARGET libsystemd)
pkg_check_modules(ALSA IMPORTED_TARGET alsa)

foreach(part GPIOD MODBUS MOSQUITTO SYSTEMD ALSA)
  if(${part}_FOUND)
    message(STATUS "${part}: ${${part}_VERSION}")
  else()
    message(STATUS "${part}: not found, that part is left out")
  endif()
endforeach()
