// Package follow hands out the text of a log that is still being written: a growing file (File), or what comes in by a pipe or a
// serial line (Stream). It knows nothing of what the text says; only whole lines are handed out, for the last one may be in the
// middle of a number.
//
// Files are looked at again and again rather than through the system's notices, which network shares and some loggers' cards do not
// give. A file that becomes shorter or is replaced by another of the same name was written anew and is read anew; one that is gone
// for a while is waited for. Nothing is ever written to it or locked.
package follow
