# SPDX-License-Identifier: GPL-3.0-or-later
# cmake -DINPUT=FILE -DOUTPUT=FILE.cpp -DNAME=identifier -DNAMESPACE=a::b -P EmbedFile.cmake
# Writes a source that holds the file's bytes, and their SHA-256 for a page's Content-Security-Policy.
file(READ ${INPUT} bytes HEX)
file(SHA256 ${INPUT} digest)
string(REGEX REPLACE "(................................)" "\\1\n    " bytes "${bytes}")
string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1, " bytes "${bytes}")
get_filename_component(file ${INPUT} NAME)
file(WRITE ${OUTPUT} "// Made from ${file}; change that.
#include \"basefog/core/embedded_file.h\"

namespace ${NAMESPACE} {
namespace {
constexpr unsigned char kBytes[] = {
    ${bytes}
};
}  // namespace
extern const EmbeddedFile ${NAME};
const EmbeddedFile ${NAME}{{reinterpret_cast<const char*>(kBytes), sizeof kBytes}, \"${digest}\"};
}  // namespace ${NAMESPACE}
")
