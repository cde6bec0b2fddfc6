"""What a file from outside may be: type, size and content are checked before anything is kept."""

from inventory.uploads.assembling import Arrived, assembled
from inventory.uploads.clips import CleanClip, clean_clip
from inventory.uploads.local import on_disk, part_of
from inventory.uploads.objects import Piece
from inventory.uploads.pictures import (
    LONGEST_SIDE,
    PICTURE_BYTES,
    PICTURE_PIXELS,
    THUMBNAIL_SIDE,
    CleanPicture,
    Original,
    clean_picture,
    uploaded_picture,
)
from inventory.uploads.sheets import SHEET_BYTES, check_sheet

__all__ = [
    "LONGEST_SIDE",
    "PICTURE_BYTES",
    "PICTURE_PIXELS",
    "SHEET_BYTES",
    "THUMBNAIL_SIDE",
    "Arrived",
    "CleanClip",
    "CleanPicture",
    "Original",
    "Piece",
    "assembled",
    "check_sheet",
    "clean_clip",
    "clean_picture",
    "on_disk",
    "part_of",
    "uploaded_picture",
]
