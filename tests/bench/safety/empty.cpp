// The floor of a host's memory: loads a plugin with its libraries, says so, and waits.
#include <dlfcn.h>
#include <unistd.h>

#include <cstdio>

int main(int argc, char** argv) {
  if (argc != 2 || ::dlopen(argv[1], RTLD_NOW | RTLD_LOCAL) == nullptr) return 1;
  std::puts("loaded");
  std::fflush(stdout);
  for (;;) ::pause();
}
