"""A disk whose power can be cut: a file system of its own in a file, that is shut down without writing anything more.

What was not synced by then is gone, as it is when the power fails; the kernel's own way of trying that is ext4's
`EXT4_IOC_SHUTDOWN` without flushing its log (fs/ext4/ioctl.c; xfstests calls it `godown`). The writer is frozen
first: one that goes on would note what it was never promised.
"""

import fcntl
import os
import random
import shutil
import signal
import struct
import subprocess
import time
from pathlib import Path
from typing import Final

from store_crash import EARLY, Nursery, faults, until_acknowledged

from graph.errors import StoreDamaged

# _IOR('X', 125, __u32) and EXT4_GOING_FLAGS_NOLOGFLUSH of the kernel's include/uapi/linux/ext4.h
SHUTDOWN: Final = 2 << 30 | 4 << 16 | ord("X") << 8 | 125
WITHOUT_FLUSHING: Final = 2
MIB: Final = 64


class NoDisk(Exception):
    """No file system can be made or mounted here; it takes root and a loop device."""


class Disk:
    """A mounted ext4 of 64 MiB."""

    def __init__(self, folder: Path) -> None:
        self.place = folder / "disk"
        self._image = folder / "disk.img"
        self.place.mkdir()
        with self._image.open("wb") as file:
            file.truncate(MIB << 20)
        self._do("mkfs.ext4", "-q", "-F", str(self._image))
        self._do("mount", "-o", "loop", str(self._image), str(self.place))

    def _do(self, *words: str) -> None:
        try:
            done = subprocess.run(words, capture_output=True, text=True, check=False)
        except FileNotFoundError as error:
            raise NoDisk(str(error)) from error
        if done.returncode:
            raise NoDisk(done.stderr.strip())

    def cut(self, child: int) -> None:
        """Cut the power under a process, in the midst of what it does; it is frozen, not gone."""
        os.kill(child, signal.SIGSTOP)
        while _state(child) not in "TZ":
            time.sleep(0.0005)
        handle = os.open(self.place, os.O_RDONLY)
        fcntl.ioctl(handle, SHUTDOWN, struct.pack("I", WITHOUT_FLUSHING))
        os.close(handle)

    def refuses(self) -> None:
        """Let the disk take no more writes, as a kernel that met an error on it does; open files stay open."""
        self._do("mount", "-o", "remount,abort", str(self.place))

    def for_reading(self) -> None:
        """Mount it for reading only; nothing on it may be open."""
        self._do("mount", "-o", "remount,ro", str(self.place))

    def again(self) -> None:
        """Power on: mount what is on the disk."""
        for left in range(100, -1, -1):  # whoever was killed may still be on its way out
            try:
                self._do("umount", str(self.place))
                break
            except NoDisk:
                if not left:
                    raise
                time.sleep(0.1)
        self._do("mount", "-o", "loop", str(self._image), str(self.place))

    def emptied(self) -> None:
        """Take the store off it."""
        shutil.rmtree(self.place / "store", ignore_errors=True)
        os.sync()

    def close(self) -> None:
        """Unmount it."""
        subprocess.run(["umount", "--lazy", str(self.place)], check=False)
        self._image.unlink(missing_ok=True)


def _state(process: int) -> str:
    return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]


def cuts(children: Nursery, disk: Disk, log: Path, count: int, seed: int, **how: bool) -> list[str]:
    """Cut the power so often at random moments; every fault found. `log` is on another disk."""
    dice = random.Random(seed)
    folder = disk.place / "store"
    found: list[str] = []
    for _ in range(count):
        first = children.next(folder)
        child = children.start(folder, log, first, **how)
        if dice.random() >= EARLY:
            until_acknowledged(log, first)
        time.sleep(dice.uniform(0.0, 0.15))
        disk.cut(child)
        os.kill(child, signal.SIGKILL)
        children.wait(child)
        disk.again()
        try:
            found += faults(folder, log)
        except StoreDamaged as error:  # it says so itself, as the controls make it do
            found.append(error.message)
        if found:
            break
    return found
