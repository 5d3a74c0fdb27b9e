# How every folder becomes one library: ingle_library(<folder> [LIBS ...]).
# The target is named after the folder ("drivers/bus" -> drivers_bus); sources are the .cpp files in it.

find_program(INGLE_CCACHE ccache)
if(INGLE_CCACHE AND NOT CMAKE_CXX_COMPILER_LAUNCHER)
  set(CMAKE_CXX_COMPILER_LAUNCHER ${CMAKE_COMMAND} -E env CCACHE_BASEDIR=${PROJECT_SOURCE_DIR} CCACHE_NOHASHDIR=1
                                  ${INGLE_CCACHE})
endif()

add_library(ingle_options INTERFACE)
target_include_directories(ingle_options INTERFACE ${PROJECT_SOURCE_DIR})
target_compile_definitions(ingle_options INTERFACE INGLE_VERSION="${PROJECT_VERSION}")
target_compile_options(ingle_options INTERFACE -Wall -Wextra -Wshadow -Wconversion -Wnon-virtual-dtor -Werror
                       -Wno-missing-field-initializers)  # a member that is left out has its default
if(INGLE_SANITIZE)
  target_compile_options(ingle_options INTERFACE -fsanitize=${INGLE_SANITIZE} -fno-omit-frame-pointer
                                                 -fno-sanitize-recover=all)
  target_link_options(ingle_options INTERFACE -fsanitize=${INGLE_SANITIZE})
  if(CMAKE_CXX_COMPILER_ID STREQUAL "Clang" AND CMAKE_CXX_COMPILER_VERSION VERSION_LESS 17)
    # Its check of function pointers (GCC has none) and coroutines give an object that cannot be assembled.
    target_compile_options(ingle_options INTERFACE -fno-sanitize=function)
  endif()
endif()
if(CMAKE_CXX_COMPILER_ID STREQUAL "Clang" AND CMAKE_CXX_COMPILER_VERSION VERSION_LESS 16)
  # Older Clang has C++20 coroutines, but does not say so in the word that libstdc++ and Boost ask for.
  target_compile_definitions(ingle_options INTERFACE __cpp_impl_coroutine=201902L BOOST_ASIO_HAS_CO_AWAIT=1)
endif()
if(INGLE_SANITIZE STREQUAL "thread" AND CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
  target_compile_options(ingle_options INTERFACE -Wno-tsan)  # Asio has fences, which GCC's thread sanitizer does not know
endif()
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
  # GCC 12 reports these falsely inside the standard library and Asio's coroutines.
  target_compile_options(ingle_options INTERFACE -Wno-restrict -Wno-stringop-overflow -Wno-maybe-uninitialized
                                                 -Wno-mismatched-new-delete -Wno-stringop-overread -Wno-array-bounds)
endif()

function(ingle_library folder)
  cmake_parse_arguments(ARG "" "" "LIBS;EXCLUDE" ${ARGN})
  string(REPLACE "/" "_" target ${folder})
  file(GLOB sources CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/${folder}/*.cpp)
  foreach(name IN LISTS ARG_EXCLUDE)
    list(REMOVE_ITEM sources ${PROJECT_SOURCE_DIR}/${folder}/${name})
  endforeach()
  if(sources)
    add_library(${target} STATIC ${sources})
    target_link_libraries(${target} PUBLIC ingle_options ${ARG_LIBS})
  else()
    add_library(${target} INTERFACE)
    target_link_libraries(${target} INTERFACE ingle_options ${ARG_LIBS})
  endif()
  set_property(GLOBAL APPEND PROPERTY INGLE_FOLDERS ${folder})
endfunction()
