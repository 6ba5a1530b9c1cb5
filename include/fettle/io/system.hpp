// SPDX-License-Identifier: MIT
#pragma once

// What fettle asks of an operating system beyond the C++ library: the one place with two ways to do a thing.
//
//   system::process_number()           of this process
//   system::has_ended(number)          whether a process of this machine is known to be gone
//   system::flush_to_disk(file)        waits until a written file is on the disk
//   system::replace(from, to)          renames a file over another in one step
//   system::may_write_in(folder)       whether this user may make files there
//   system::is_terminal(stream)        whether somebody watches it
//   system::terminal_columns(stream)   its width
//   system::find_program(name)         its full path from the folders of PATH
//   system::nameless_file()            a file that is gone as soon as it is closed
//   system::run(program, argument, streams)  runs a program without a shell
#if defined(_WIN32)
#include "fettle/io/detail/system_windows.hpp"
#else
#include "fettle/io/detail/system_posix.hpp"
#endif
