"""Every sentence of findings, remedies and assumptions, chapter by chapter."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from fitcheck.findings.sentences.cautions import SENTENCES as _CAUTIONS
from fitcheck.findings.sentences.comparison import SENTENCES as _COMPARISON
from fitcheck.findings.sentences.datum import SENTENCES as _DATUM
from fitcheck.findings.sentences.fit import SENTENCES as _FIT
from fitcheck.findings.sentences.holds import SENTENCES as _HOLDS
from fitcheck.findings.sentences.order import SENTENCES as _ORDER
from fitcheck.findings.sentences.piping import SENTENCES as _PIPING
from fitcheck.findings.sentences.remedies import SENTENCES as _REMEDIES
from fitcheck.findings.sentences.routes import SENTENCES as _ROUTES
from fitcheck.findings.sentences.space import SENTENCES as _SPACE
from fitcheck.findings.sentences.water import SENTENCES as _WATER

_AS_WRITTEN = {"as-written": "{text}"}
_CHAPTERS = (
    _AS_WRITTEN,
    _CAUTIONS,
    _COMPARISON,
    _DATUM,
    _FIT,
    _HOLDS,
    _ORDER,
    _PIPING,
    _REMEDIES,
    _ROUTES,
    _SPACE,
    _WATER,
)

#: Sentences by key: the rule, a stop, and which of its sentences ("mounting.short").
SENTENCES: Mapping[str, str] = MappingProxyType(
    {key: text for chapter in _CHAPTERS for key, text in chapter.items()}
)

__all__ = ["SENTENCES"]
