"""The contract gate's own module, which no package holds; it also fetches the pinned Node tools."""

import importlib.util
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[2]


def load_gate() -> ModuleType:
    """`.ci/contract_gate.py` as a module."""
    spec = importlib.util.spec_from_file_location("contract_gate", ROOT / ".ci/contract_gate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
