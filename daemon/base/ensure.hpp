// ENSURE(condition): an assertion that stays on in release. A bug stops the program; it restarts
// safe. Threading: any. Failure: prints file, line and condition to stderr and aborts.
#pragma once

#include <cstdio>
#include <cstdlib>

#define ENSURE(condition)                                                          \
  do {                                                                             \
    if (!(condition)) [[unlikely]] {                                               \
      std::fprintf(stderr, "%s:%d: broken: %s\n", __FILE__, __LINE__, #condition); \
      std::abort();                                                                \
    }                                                                              \
  } while (false)
