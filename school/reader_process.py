"""Read one file of a stranger in a process of its own.

python -m school.reader_process MODULE:FUNCTION CPU_SECONDS MEMORY_MEGABYTES < FILE

Knows neither Django nor the database. The function gets the bytes, and what it returns is written as JSON.
"""

import importlib
import json
import os
import resource
import sys

MAX_RESULT_BYTES = 32 * 2**20
NICENESS = 10  # of 19: a tenth of what a web process gets where both want the processor


def limit_process(cpu_seconds: int, memory: int) -> None:
    """Bound processor time, memory and output of this process, and let every other one go first."""
    # One second more before the kill that no handler can catch.
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_seconds, cpu_seconds + 1))
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_FSIZE, (MAX_RESULT_BYTES, MAX_RESULT_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    os.nice(NICENESS)


def main(reader: str, cpu_seconds: str, memory_megabytes: str) -> None:
    # Before the library is loaded and the first byte is read: no parser runs without the limits.
    limit_process(int(cpu_seconds), int(memory_megabytes) * 2**20)
    module, _, function = reader.partition(":")
    read = getattr(importlib.import_module(module), function)
    sys.stdout.write(json.dumps(read(sys.stdin.buffer.read())))


if __name__ == "__main__":
    main(*sys.argv[1:])
