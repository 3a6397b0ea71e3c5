"""What a person says of a test beside its file."""

from ebbline.adapters.files.curve_file import Flags as Overrides
