// An answer made smaller for its way over the air. Threading: pure; takes about a millisecond for
// 100 KB on a desktop. Failure: what does not get smaller stays as it was.
#pragma once

#include "shell/sheet/message.hpp"

namespace tubwarden::sheet {

/// Below this it is not worth a header more; above, the loop has better to do.
inline constexpr std::size_t kCompressedLeast = 1400, kCompressedMost = 256 * 1024;

/// By gzip, where the caller takes it and the size is worth it.
void compress(Answer& answer, bool takes_gzip);

}  // namespace tubwarden::sheet
