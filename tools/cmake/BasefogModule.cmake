# SPDX-License-Identifier: GPL-3.0-or-later
# One static library per module; its link lists are the architecture.
add_library(basefog_flags INTERFACE)
target_compile_options(basefog_flags INTERFACE -Wall -Wextra -Wpedantic -Wshadow -Wnon-virtual-dtor -ffp-contract=off
  # g++ 12 takes string concatenation and replacement for overlapping copies (a known false positive of that version).
  $<$<CXX_COMPILER_ID:GNU>:-Wno-restrict>)
if(BASEFOG_SANITIZE)
  target_compile_options(basefog_flags INTERFACE -fsanitize=${BASEFOG_SANITIZE} -fno-omit-frame-pointer -g)
  target_link_options(basefog_flags INTERFACE -fsanitize=${BASEFOG_SANITIZE})
endif()

# basefog_module(NAME SOURCES ... [PUBLIC ...] [PRIVATE ...])
function(basefog_module name)
  cmake_parse_arguments(PARSE_ARGV 1 arg "" "" "SOURCES;PUBLIC;PRIVATE")
  add_library(basefog_${name} STATIC ${arg_SOURCES})
  add_library(basefog::${name} ALIAS basefog_${name})
  target_include_directories(basefog_${name} PUBLIC ${PROJECT_SOURCE_DIR}/include PRIVATE ${PROJECT_SOURCE_DIR}/src)
  target_link_libraries(basefog_${name} PUBLIC ${arg_PUBLIC} PRIVATE basefog_flags ${arg_PRIVATE})
endfunction()

# basefog_test(MODULE SOURCES ... [LIBS ...]): one executable per module, one ctest entry per test case, labelled with the module's name.
function(basefog_test module)
  cmake_parse_arguments(PARSE_ARGV 1 arg "" "" "SOURCES;LIBS;LABELS")
  add_executable(test_${module} ${arg_SOURCES})
  target_include_directories(test_${module} PRIVATE ${PROJECT_SOURCE_DIR}/tests)
  target_compile_definitions(test_${module} PRIVATE BASEFOG_TESTDATA="${PROJECT_SOURCE_DIR}/testdata" BASEFOG_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
  target_link_libraries(test_${module} PRIVATE basefog_test_main basefog_flags ${arg_LIBS})
  # A name that ctest cannot hand on (one with a semicolon, say) would match no case and pass: NoTests makes that a failure.
  catch_discover_tests(test_${module} EXTRA_ARGS --warn NoTests PROPERTIES LABELS "${module};${arg_LABELS}" TEST_PREFIX "${module}: ")
endfunction()

# basefog_embed(MODULE FILE...): the bytes of each file, page.css say, as `extern const EmbeddedFile kPageCss` in namespace basefog::MODULE.
function(basefog_embed module)
  foreach(file ${ARGN})
    get_filename_component(name ${file} NAME)
    set(identifier k)
    string(REGEX MATCHALL "[A-Za-z0-9]+" words ${name})
    foreach(word ${words})
      string(SUBSTRING ${word} 0 1 first)
      string(SUBSTRING ${word} 1 -1 rest)
      string(TOUPPER ${first} first)
      string(APPEND identifier ${first}${rest})
    endforeach()
    set(made ${CMAKE_CURRENT_BINARY_DIR}/${name}.cpp)
    add_custom_command(OUTPUT ${made}
      COMMAND ${CMAKE_COMMAND} -DINPUT=${CMAKE_CURRENT_SOURCE_DIR}/${file} -DOUTPUT=${made} -DNAME=${identifier} -DNAMESPACE=basefog::${module}
              -P ${PROJECT_SOURCE_DIR}/tools/cmake/EmbedFile.cmake
      DEPENDS ${file} ${PROJECT_SOURCE_DIR}/tools/cmake/EmbedFile.cmake VERBATIM)
    target_sources(basefog_${module} PRIVATE ${made})
  endforeach()
endfunction()
