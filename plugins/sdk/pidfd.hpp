// A descriptor that becomes readable when a process ends. The C library's header of 2.36 lacks C
// linkage, so the system call is made directly.
// Threading: any. Failure: -1 and errno.
#pragma once

#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

namespace tubwarden {

inline int open_pidfd(pid_t pid) { return static_cast<int>(::syscall(SYS_pidfd_open, pid, 0)); }

}  // namespace tubwarden
