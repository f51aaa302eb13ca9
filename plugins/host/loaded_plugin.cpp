#include "host/loaded_plugin.hpp"

#include <dlfcn.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstddef>
#include <cstring>
#include <filesystem>

namespace tubwarden::host {

namespace {

constexpr std::uint32_t kOptionsMax = 64;

Error refused(const std::string& path, const std::string& why) {
  return {ErrorCode::refused, path + ": " + why};
}

bool is_ours(uid_t owner) { return owner == 0 || owner == ::geteuid(); }

/// Nothing when the file may be trusted as much as our own program.
std::optional<Error> distrust(const std::string& path) {
  struct stat file {};
  if (::stat(path.c_str(), &file) != 0) {
    return Error{ErrorCode::not_found, path + ": " + std::strerror(errno)};
  }
  if (!S_ISREG(file.st_mode)) return refused(path, "is not a file");
  if (!is_ours(file.st_uid)) {
    return refused(path, "belongs to user " + std::to_string(file.st_uid) +
                             "; allowed: root or the user the daemon runs as");
  }
  if ((file.st_mode & S_IWOTH) != 0) {
    return refused(path, "is writable by everyone; take that away with chmod o-w");
  }
  struct stat folder {};
  const std::string parent = std::filesystem::absolute(path).parent_path().string();
  if (::stat(parent.c_str(), &folder) != 0) {
    return Error{ErrorCode::not_found, parent + ": " + std::strerror(errno)};
  }
  const bool anyone_may_replace =
      (folder.st_mode & S_IWOTH) != 0 && (folder.st_mode & S_ISVTX) == 0;
  if (anyone_may_replace || !is_ours(folder.st_uid)) {
    return refused(path, "lies in a folder that others can change: " + parent);
  }
  return std::nullopt;
}

/// The part of a table that ABI 1 began with; a shorter one is not of ABI 1.
constexpr std::uint32_t kFirstSize = offsetof(tw_plugin, deliver) + sizeof(tw_plugin::deliver);

std::optional<Error> wrong_version(const std::string& path, const tw_plugin* table) {
  if (table == nullptr) return refused(path, "tubwarden_plugin() returned nothing");
  if (table->abi != TW_ABI) {
    return refused(path, "was built for plugin ABI " + std::to_string(table->abi) +
                             ", this host speaks ABI " + std::to_string(TW_ABI) + "; rebuild it");
  }
  if (table->size < kFirstSize) {
    return refused(path, "its table has " + std::to_string(table->size) + " bytes, ABI " +
                             std::to_string(TW_ABI) + " has at least " +
                             std::to_string(kFirstSize) + "; rebuild it");
  }
  return std::nullopt;
}

std::optional<Error> wrong_calls(const std::string& path, const tw_plugin& table) {
  constexpr std::uint32_t kKinds = TW_KIND_ACTUATOR | TW_KIND_CHANNEL;
  if (table.kind == 0 || (table.kind & ~kKinds) != 0) {
    return refused(path, "is of an unknown kind " + std::to_string(table.kind));
  }
  const bool actuator = table.open && table.apply && table.make_safe && table.close;
  if ((table.kind & TW_KIND_ACTUATOR) != 0 && !actuator) {
    return refused(path, "an actuator needs open, apply, make_safe and close");
  }
  if ((table.kind & TW_KIND_CHANNEL) != 0 && !table.deliver) {
    return refused(path, "a channel needs deliver");
  }
  return std::nullopt;
}

std::optional<Error> wrong_words(const std::string& path, const tw_plugin& table) {
  if (table.name == nullptr || *table.name == '\0') return refused(path, "has no name");
  if (table.option_count > kOptionsMax || (table.option_count > 0 && table.options == nullptr)) {
    return refused(path, "its options are not a table of at most 64 rows");
  }
  for (std::uint32_t i = 0; i < table.option_count; ++i) {
    const tw_option& row = table.options[i];
    if (row.name && row.type && row.range && row.help && *row.name != '\0') continue;
    return refused(path, "option " + std::to_string(i + 1) +
                             " lacks its name, type, range or help; only the fallback may be NULL");
  }
  return std::nullopt;
}

std::string text(const char* word) { return word != nullptr ? word : ""; }

}  // namespace

Result<const tw_plugin*> load_plugin(const std::string& path) {
  if (const auto error = distrust(path)) return *error;
  const std::string absolute = std::filesystem::absolute(path).string();
  void* object = ::dlopen(absolute.c_str(), RTLD_NOW | RTLD_LOCAL | RTLD_NODELETE);
  if (object == nullptr) return refused(path, text(::dlerror()));
  using Entry = const tw_plugin* (*)();
  const auto entry = reinterpret_cast<Entry>(::dlsym(object, "tubwarden_plugin"));
  if (entry == nullptr) return refused(path, "has no entry tubwarden_plugin(); not a plugin");
  const tw_plugin* table = entry();
  if (const auto error = wrong_version(path, table)) return *error;
  for (const auto wrong : {wrong_calls, wrong_words}) {
    if (const auto error = wrong(path, *table)) return *error;
  }
  return table;
}

protocol::Description describe(const tw_plugin& plugin) {
  protocol::Description result;
  result.name = plugin.name;
  result.is_channel = (plugin.kind & TW_KIND_CHANNEL) != 0;
  result.is_actuator = (plugin.kind & TW_KIND_ACTUATOR) != 0;
  result.network = (plugin.can & TW_IS_NETWORK) != 0;
  result.has_will = (plugin.can & TW_HAS_WILL) != 0;
  result.levels = (plugin.can & TW_CAN_LEVEL) != 0;
  for (std::uint32_t i = 0; i < plugin.option_count; ++i) {
    const tw_option& row = plugin.options[i];
    result.options.push_back({text(row.name), text(row.type), text(row.range), {}, text(row.help)});
    if (row.fallback != nullptr) result.options.back().fallback = row.fallback;
  }
  return result;
}

}  // namespace tubwarden::host
