"""Rare words (`meant` in prompts/commands.yaml) are those that are not listened for anyway."""

from __future__ import annotations

from tests.benchmarks.hearing.questions import shipped as questions
from voice.understand.lexicon import shipped


def test_no_rare_word_is_listened_for_wherever_it_could_count() -> None:
    """But for the good words of a prompt, which are listened for only as long as the prompt has them."""
    lexicon = shipped()
    needless = []
    for phrase, rare in lexicon.meant.items():
        offered = [question.meanings for question in questions().values() if phrase in question.meanings]
        for words in (each for each in rare if each.removeprefix("not ") not in lexicon.good_words):
            if offered and all(meanings.get(words) == meanings[phrase] for meanings in offered):
                needless.append(f"{phrase}: {words}")
    assert needless == []
