#include <cstdlib>
#include <fstream>
#include <iterator>
#include <stdexcept>

#include "parts/parts.hpp"

namespace parts {

namespace fs = std::filesystem;

TempFolder::TempFolder() {
  std::string name = (fs::temp_directory_path() / "tubwarden-test-XXXXXX").string();
  if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("cannot make " + name);
  path_ = name;
}

TempFolder::~TempFolder() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

namespace {
void write_whole(const fs::path& path, const std::string& text) {
  fs::create_directories(path.parent_path());
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  file << text;
  file.close();
  if (!file) throw std::runtime_error("cannot write " + path.string());
}
}  // namespace

void TempFolder::write(const std::string& name, const std::string& text) const {
  write_whole(path_ / name, text);
}

void TempFolder::write_by_rename(const std::string& name, const std::string& text) const {
  const fs::path target = path_ / name;
  const fs::path beside = target.parent_path() / ("." + target.filename().string() + ".swp.new");
  write_whole(beside, text);
  fs::rename(beside, target);
}

std::string read_file(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) throw std::runtime_error("cannot read " + path.string());
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

}  // namespace parts
