# Packs the files of the page into one source file, compressed: cmake -DOUT=FILE.cpp -DWORK=DIR
# "-DFILES=a;b" -P pack.cmake. Run at build time only; a board has what comes of it.
file(MAKE_DIRECTORY ${WORK})
set(types "html=text/html; charset=utf-8" "css=text/css; charset=utf-8"
  "js=text/javascript; charset=utf-8" "svg=image/svg+xml" "webmanifest=application/manifest+json")
set(arrays "")
set(rows "")
set(number 0)
foreach(file ${FILES})
  get_filename_component(name ${file} NAME)
  get_filename_component(ending ${file} LAST_EXT)
  string(SUBSTRING "${ending}" 1 -1 ending)
  set(type "")
  foreach(pair ${types})
    if(pair MATCHES "^${ending}=(.*)$")
      set(type "${CMAKE_MATCH_1}")
    endif()
  endforeach()
  if(type STREQUAL "")
    message(FATAL_ERROR "${file}: no type for .${ending}; pack.cmake has those there are")
  endif()
  # A time of its own, so that the same page is the same bytes.
  file(ARCHIVE_CREATE OUTPUT ${WORK}/${name}.gz PATHS ${file} FORMAT raw COMPRESSION GZip
    MTIME "2020-01-01 00:00:00")
  file(READ ${WORK}/${name}.gz hex HEX)
  string(LENGTH "${hex}" size)
  math(EXPR size "${size} / 2")
  string(REGEX REPLACE "(................................................................)" "\\1\n" hex "${hex}")
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," hex "${hex}")
  file(SHA256 ${file} etag)
  string(SUBSTRING ${etag} 0 24 etag)
  set(path "/${name}")
  if(name STREQUAL "index.html")
    set(path "/")
  elseif(ending STREQUAL "html")
    string(REGEX REPLACE "\\.html$" "" path "${path}")
  endif()
  string(APPEND arrays "constexpr unsigned char kFile${number}[] = {\n${hex}};\n")
  string(APPEND rows "    {\"${path}\", \"${type}\", \"\\\"${etag}\\\"\", packed(kFile${number}, ${size})},\n")
  math(EXPR number "${number} + 1")
endforeach()
file(WRITE ${OUT} "// Made by pack.cmake of the files of the page.
#include \"shell/sheet/page_files.hpp\"

namespace tubwarden::sheet {
namespace {

${arrays}
std::string_view packed(const unsigned char* bytes, std::size_t size) {
  return {reinterpret_cast<const char*>(bytes), size};
}

}  // namespace

std::span<const PageFile> page_files() {
  static const PageFile kFiles[] = {
${rows}  };
  return kFiles;
}

}  // namespace tubwarden::sheet
")
