"""Decisions as people write them, and the word of the list that each is read as.

Only words with one meaning are here. A word that may mean a yes as well as a no, such as “no”,
“right?” or “see note”, is no decision: it stays as typed, and the row asks for a word of the list.
"""

from xlhelpers.survey.typed.words import fold_word

ACCEPTED, CORRECTED, ASK_CREW = "accepted", "corrected", "ask crew"
MEASURE_AGAIN, NOT_SAFE = "measure again", "NOT SAFE"
# the words of the drop-down list, in its order
WORDS: tuple[str, ...] = (ACCEPTED, CORRECTED, ASK_CREW, MEASURE_AGAIN, NOT_SAFE)
# word of the list -> other words that are read as it, in small letters
READ_AS: dict[str, tuple[str, ...]] = {
    ACCEPTED: (
        *("accept", "accept it", "ok", "okay", "o.k.", "fine", "yes", "all right"),
        *("as is", "right as is", "correct as is", "fine as is", "ok as is", "leave as is"),
        *("keep", "keep it", "keep as is", "is right", "it is right", "reading is right"),
    ),
    CORRECTED: (
        *("corrected it", "is corrected", "fixed", "fixed it", "is fixed", "done"),
        *("amended", "put right", "changed"),
    ),
    ASK_CREW: ("ask the crew", "ask", "ask them", "ask crew lead"),
    MEASURE_AGAIN: (
        *("measure it again", "measure once more", "remeasure", "re-measure", "remeasure it"),
        *("measure again please", "to be measured again"),
    ),
    NOT_SAFE: ("unsafe", "is not safe", "not safe to measure", "no safe place"),
}
# words of earlier lists that workbooks still hold, and the word that is offered now
FORMER_WORDS = {"mended": CORRECTED}
_LISTED = {fold_word(word): word for word in WORDS} | FORMER_WORDS
_MEANT = {fold_word(other): word for word, others in READ_AS.items() for other in others}


def kind_word(text: str) -> tuple[str, bool]:
    """Return the word of the list that a decision means, and whether it was typed as listed.

    Parameters
    ----------
    text : str
        The decision as typed. Capitals, spaces, and a stop or an exclamation mark at its end make
        no difference.

    Returns
    -------
    tuple of str and bool
        The word, "" where it means none of them.
    """
    folded = fold_word(text)
    if folded in _LISTED:
        return _LISTED[folded], True
    plain = folded.rstrip(".! ")
    if plain in _LISTED:
        return _LISTED[plain], False
    return _MEANT.get(folded) or _MEANT.get(plain, ""), False
