"""Imported before numpy is: one thread for linear algebra in the tests too, as in the program. With more they take twice as long."""

from toneprobe.threads import use_one_thread

use_one_thread()
