"""Where tests keep their files: in memory where there is room, since each commit syncs and a disk makes that slow."""

import os
import shutil
from pathlib import Path

_MEMORY = Path("/dev/shm")
_ROOM = 2 * 1024**3

roomy = _MEMORY.is_dir() and os.access(_MEMORY, os.W_OK) and shutil.disk_usage(_MEMORY).free > _ROOM
FOLDER = _MEMORY if roomy else Path("/tmp")
