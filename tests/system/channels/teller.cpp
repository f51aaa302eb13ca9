#include "teller.hpp"

#include <dlfcn.h>

#include <stdexcept>

#include "sdk/protocol.hpp"

namespace tubwarden {

Teller::Teller(const std::string& name) {
  const std::string path = TUBWARDEN_PLUGIN_DIR "/" + name + ".so";
  void* library = ::dlopen(path.c_str(), RTLD_NOW | RTLD_LOCAL);
  if (library == nullptr) throw std::runtime_error(::dlerror());
  using Entry = const tw_plugin* (*)();
  plugin_ = reinterpret_cast<Entry>(::dlsym(library, "tubwarden_plugin"))();
}

Told Teller::tell(const std::string& wiring, const std::string& key, const std::string& title,
                  const std::string& text, const std::string& state) {
  struct Heard {
    Told told;
    std::vector<std::string>* all;
  } heard{{}, &all_};
  tw_host host{};
  host.size = sizeof host;
  host.context = &heard;
  host.say = [](void* context, std::uint32_t level, const char* words) {
    Heard& to = *static_cast<Heard*>(context);
    to.all->emplace_back(words);
    if (level >= TW_WARNING) to.told.words = words;
  };
  heard.told.code =
      plugin_->deliver(&host, wiring.c_str(), site.c_str(),
                       protocol::channel_message(key, "now", state, title, text).c_str());
  return heard.told;
}

void make_certificate(const parts::TempFolder& folder, const std::string& name,
                      const std::string& alternative_names) {
  const std::string base = (folder.path() / name).string();
  const parts::Ran ran = parts::run(
      {"openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
       "-days", "2", "-subj", "/CN=" + name, "-addext", "subjectAltName=" + alternative_names,
       "-keyout", base + ".key", "-out", base + ".pem"});
  if (ran.status != 0) throw std::runtime_error("openssl: " + ran.err);
}

std::string secret_file(const parts::TempFolder& folder, const std::string& name,
                        const std::string& text) {
  folder.write(name, text);
  using std::filesystem::perms;
  std::filesystem::permissions(folder.path() / name, perms::owner_read | perms::owner_write);
  return (folder.path() / name).string();
}

}  // namespace tubwarden
