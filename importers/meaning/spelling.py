"""Headings whose letters were damaged on the way, and abbreviations of several words."""

from __future__ import annotations

import re
from functools import lru_cache

from importers.meaning.words import WORDS, abbreviated, compound, fold, meanings

_DAMAGED = re.compile("[\u00c2\u00c3\u00e2\u00c5\u00ce\u00cf]")
"""What the first bytes of accented letters, signs and Greek in UTF-8 look like in a Windows code page."""
_LOST = re.compile(r"[A-Za-z\u00c0-\u024f?\ufffd]*[?\ufffd][A-Za-z\u00c0-\u024f?\ufffd]*")
_CAPITAL = re.compile("[a-z\u00e0-\u00ff][A-Z]")
_LETTERS = ("a", "o", "u", "e", "i", "ss", "n", "c")
"""What accented letters of the five languages are without their accents."""


def _widened(pattern: str, *, camel: bool) -> str:
    """A pattern in which an underscore counts as a blank, and a capital behind a small letter if wanted."""
    capital = "|(?-i:(?<=[a-z\u00e0-\u00ff])(?=[A-Z]))" if camel else ""
    blank = rf"(?:[\s_]{capital})"
    spaced = re.sub(
        r"\[[^\]]*\]|\\s", lambda m: m.group().replace("\\s", "\\s_") if len(m.group()) > 2 else blank, pattern
    )
    spaced = spaced.replace(r"(?<!\w)", rf"(?:(?<![^\W_]){capital})")
    return spaced.replace(r"(?!\w)", rf"(?:(?![^\W_]){capital})")


_SHORT: tuple[tuple[str, str], ...] = (
    (r"(?<!\w)(?:\u00fcber|ueber|uber)\s(?:nn|nhn|normalnull|(?:dem\s)?meer(?:esspiegel)?)(?!\w)", " msl "),
    (
        r"(?<!\w)(?:above\s(?:mean\s)?sea\s?level|(?:sobre|sul)\s(?:el\s)?(?:nivel|livello)\sdel\smare?)(?!\w)",
        " msl ",
    ),
    (r"[(\[](?:per|pro|par|por|al)\s(?:minuten?|minuto|minute)[)\]]", "(1/min)"),
    (r"(?<!\w)(?:in\s)?thousands?\s(?:of\srev(?:olution)?s\s)?per\smin(?:ute)?(?!\w)", "(krpm)"),
    (
        r"(?<!\w)(?:at|beim?|am|au|en\sel|al)\s(?:the\s)?(?:transmitter|tx|sender|handset|[e\u00e9]metteur|emisora"
        r"|trasmettitore)(?!\w)",
        " downlink ",
    ),
    (r"(?<!\w)port\.\s?(?=[sd]x(?!\w)|carb|comb|cher|[12](?!\w))", " portata "),
    (r"[(\[]1\s?=\s?(?:down|dn|abajo|fuera|ausgefahren|aus|unten|sorti|bas|gi[u\u00f9]|fuori|extended)[)\]]", " "),
    (
        r"(?<!\w)(?:gas[\s-]?generator|gaserzeuger|g[e\u00e9]n[e\u00e9]rateur\sde\sgaz|generatore\sdi\sgas"
        r"|generador\sde\sgas)(?!\w)",
        " engine ",
    ),
    (
        r"(?<!\w)(?:heading|hdg|alt(?:itude)?|speed|spd|course|crs)\s(?:bug|sel)(?!\w)"
        r"|(?<!\w)sel\s(?=heading|hdg|alt|speed|spd|course|crs)|(?<!\w)top\s(?=speed|rpm|revs|height|alt)",
        " limit ",
    ),
    (r"(?<!\w)take[\s-]off(?:\s?point)?(?!\w)", " takeoff "),
    (r"(?<!\w)used\s+up(?!\w)", " used "),
    (r"(?<!\w)cut[\s-](?:off|out)(?!\w)", " cutoff "),
    (r"(?<!\w)(heading|hdg|altitude|alt|speed|spd|course|crs)\s(?:bug|preselect)(?!\w)", r" \1 setpoint "),
    (
        r"(?<!\w)(?:(?:last|previous|prior)\sflight|(?:letzte|vorige)[rn]?\sflug|(?:dernier|pr[\u00e9e]c[\u00e9e]dent)\svol"
        r"|vol\spr[\u00e9e]c[\u00e9e]dent|(?:[\u00fau]ltimo|precedente|anterior)\s(?:vuelo|volo)"
        r"|(?:vuelo|volo)\s(?:anterior|precedente))(?!\w)",
        " previous ",
    ),
    (r"(?<!\w)low?[\s-]?pass(?:\sfilter(?:ed)?)?(?!\w)", " lp "),
    (
        r"(?<!\w)how\s(?:hot|fast|much|many|full|far|strong)(?!\w)|(?<!\w)(?:can\ssee|in\s(?:view|sight))(?!\w)",
        " ",
    ),
    (r"(?<!\w)u[/_]c(?!\w)", " undercarriage "),
    (r"(?<!\w)(?:ldg|lndg|landing)[\s.-]*gr(?!\w)", " gear "),
    (r"(?<!\w)(?:(?:power|thrust)\slever|levier\s(?:de\s)?puissance)(?!\w)", " throttle "),
    (r"(?<!\w)rx\s(?:level|power)(?!\w)", " rssi "),
    (r"(?<!\w)(?:force|fuerza|forza)\s(?:d[ue]l?\s)?(?=signal|se[n\u00f1]al|segnale)", " "),
    (
        r"(?<!\w)(?:livello|niveau|nivel)\s(?:(?:di|de)\s)?"
        r"(?:ricezione|r[e\u00e9]ception|recepci[o\u00f3]n|ricevuto|re[c\u00e7]u|recibido)(?!\w)",
        " rssi ",
    ),
    (
        r"(?<!\w)(?:(?:voie|liaison)\sdescendante|lien\sdescendant|enlace\s(?:descendente|de\sbajada)"
        r"|collegamento\sdiscendente|canale\sdi\sritorno|canal\sde\sretorno)(?!\w)",
        " downlink ",
    ),
    (
        r"(?<!\w)(?:(?:voie|liaison)\smontante|lien\smontant|enlace\s(?:ascendente|de\ssubida)"
        r"|collegamento\sascendente)(?!\w)",
        " uplink ",
    ),
    (r"(?<!\w)rssi\s(?:de\s)?(?:bajada|descendente|discesa|descendant|descente)(?!\w)", " rssi downlink "),
    (r"(?<!\w)rssi\s(?:de\s)?(?:subida|ascendente|salita|montant|montee)(?!\w)", " rssi uplink "),
    (
        r"(?<!\w)(?:vertical\sspeed|vertikalgeschwindigkeit|vitesse\sverticale|velocidad\svertical"
        r"|velocit[a\u00e0]\sverticale)\s(?:up(?:wards?)?|hoch|aufw(?:\u00e4|ae)rts|montante|(?:hacia\s)?arriba"
        r"|verso\sl.alto|in\ssu)(?!\w)",
        " vario ",
    ),
    (r"(?<!\w)msnm\s?$", " msl m"),
    (r"(?<!\w)incl(?:in)?(?:a(?:zione|ci[o\u00f3]n|ison))?\.?\slat(?:[e\u00e9]r)?(?:ale?)?(?!\w)\.?", " roll "),
    (r"(?<!\w)(?:assetto|actitud|assiette)\slongitudinale?(?!\w)", " pitch "),
    (r"(?<!\w)(?:rumbo|cap)\s(?:mag(?!\w)\.?|magn[e\u00e9]ti\w+|br[u\u00fa]jula|compas)(?!\w)", " heading "),
    (r"(?<!\w)(?:cap|rumbo|kurs)\s(?:suivi|seguido|\u00fcber\sgrund)(?!\w)", " track "),
    (r"(?<!\w)t\s?\u00b0(?=\s[a-z\u00e0-\u00ff])", " temp "),
    (r"(?<!\w)n\.?\s?[\u00ba\u00b0](?=\s?\w)", " nr "),
    (r"(?<!\w)cabra\s?/?\s?picchia(?!\w)", " elevator "),
    (r"(?<!\w)steig(?:en|\.)?\s?[/-]?\s?sinken|sinken\s?[/-]?\s?steig(?:en|\.)?(?!\w)", " vario "),
    (r"(?<!\w)(?:in\s)?fix(?:\s|[/.])+(?=sat|sv|lat|lon)", " "),
    (r"(?-i:(?<![A-Za-z])|(?<=[a-z\d])(?=L))li-?(?:po|ion|fe)(?-i:(?![a-z]))", " lipo "),
    (r"(?<!\w)[e\u00e9]l[.\s]\s?(?=\d)", " cell "),
    (r"(?<!\w)au-?\s?dessus\sd(?:u\sniveau\sd)?e\sla\smer(?!\w)", " msl "),
    (
        r"(?<!\w)(?:potenza\sricevuta|puissance\sre[c\u00e7]ue|potencia\srecibida|received\spower)(?!\w)",
        " rssi ",
    ),
    (r"(?<!\w)\u00e0(?!\w)", " "),
    (r"(?<=\w)\sd[\s'\u2019]?(?=att(?!\w)|atterr|\u00e9chap|echap)", " "),
    (r"(?<!\w)v(?:/s(?!\w)|_s(?=_(?:ms|mps|fpm|kmh)))", " vario "),
    (r"(?<!\w)(?:up\s?/\s?(?:down|dn)|(?:down|dn)\s?/\s?up)(?!\w)", " "),
    (r"(?<!\w)par\srapport\s(?:\u00e0|au?)(?:\sl)?(?!\w)", " "),
    (r"(?<!\w)s(?:/\s?(?=[a-z])|_(?=suelo|sol(?!\w)|terr|pista))", " sobre "),
    (r"(?:jet|tail)[\s_-]?pipe", " tailpipe "),
    (r"fail[\s_-]?safe", " failsafe "),
    (r"(?<!\w)K(IAS|CAS|TAS)(?!\w)", r"\1 kt"),
    (r"(?<!\w)(?:return\s(?:link|path|channel)|back\s?channel)(?!\w)", " downlink "),
    (r"(?<!\w)static(?=\s+temp)", "static air"),
    (r"(?<!\w)(?:[vVqQ]\u0307|m\u0307|\u1e41|\u1e7c)(?![a-z])", " mdot "),
    (r"(?<!\w)(?:on|an|a|\u00e0)[\s_-]?bo(?:ard|rdo|rd)(?!\w)", " "),
    (r"(?<!\w)(?:\u00fc|ue)\.?\s?(?:nn|nhn|n\.\s?n\.|m(?:eer(?:esspiegel)?)?)(?!\w)", " msl "),
    (r"(?<!\w)(?:m\.?)?s\.?\s?n\.?\s?m\.?(?!\w)|(?<!\w)s\.?\s?l\.?\s?m\.?(?!\w)", " msl "),
    (r"(?<!\w)a\.?\s?g\.?\s?l\.?(?!\w)", " agl "),
    (r"(?<!\w)(?:\u00fc\.\s?(?=\w)|ue\.?\s(?=grund|boden|platz|start|gel))", " \u00fcber "),
)
"""Abbreviations of several words: above sea level, above ground, on board; "\u00fc." for \u00fcber.

A blank in them may as well be an underscore, or a capital behind a small letter.
"""


@lru_cache(maxsize=4096)
def mended(text: str) -> str:
    """Undo what a wrong code page did to a heading, and write its abbreviations out.

    Examples
    --------
    >>> mended("H\u00c3\u00b6he"), mended("Tuy?re (?C)")
    ('H\u00f6he', 'tuyere (?C)')
    """
    if _DAMAGED.search(text):
        for codec in ("cp1252", "latin-1"):
            try:
                text = text.encode(codec).decode("utf-8")
                break
            except UnicodeError:
                continue
    if "?" in text or "\ufffd" in text:
        text = _LOST.sub(_restored, text)
    text = _DOTTED.sub(lambda m: m.group().replace(".", ""), text)
    for pattern, words in _patterns(camel=_CAPITAL.search(text) is not None):
        text = pattern.sub(words, text)
    return text


@lru_cache(maxsize=2)
def _patterns(*, camel: bool) -> tuple[tuple[re.Pattern[str], str], ...]:
    return tuple((re.compile(_widened(pattern, camel=camel), re.IGNORECASE), words) for pattern, words in _SHORT)


def _restored(match: re.Match[str]) -> str:
    """A word with its lost letters, where only one meaning comes of it."""
    whole = match.group()
    if len(whole) < 4 or whole.count("?") + whole.count("\ufffd") > 2:
        return whole
    made = [fold(whole)]
    for _ in range(2):
        made = [re.sub(r"[?\ufffd]", letters, w, count=1) for w in made for letters in _LETTERS]
    known = {w: parts for w in dict.fromkeys(made) if (parts := _meant(w))}
    return next(iter(known)) if len(set(known.values())) == 1 else whole


def _meant(word: str) -> tuple[str, ...]:
    """The likeliest ideas of a word or of the parts of a compound; none where it is not known."""
    parts = compound(word) or ((word,) if meanings(word) else ())
    return tuple(meanings(p)[0] for p in parts) if all(map(meanings, parts)) else ()


_DOTTED = re.compile(r"(?<![\w.])(?:[A-Z]\.){2,}[A-Z]?(?!\w)")
"""Capitals with a point behind each: "E.G.T."."""
_ALPHABET = "abcdefghijklmnopqrstuvwxyz"
_LONG, _LONGEST = 5, 30
"""Letters of the shortest and the longest word that is known again with one letter wrong; with two changed places the
shortest has one less."""
_BEHIND = "lrgdab"
"""Letters of sides and parts that are run together with a word."""


@lru_cache(maxsize=4096)
def near(word: str) -> str:
    """The known word that an unknown one is by a slip of the pen: a letter too much, too few, wrong, or two swapped.

    '' where none is near, or several that mean different things; the first letter must be right.

    >>> near("reciever"), near("temprature"), near("rotir"), near("zorp"), near("empfangerspanung")
    ('receiver', 'temperature', 'rotor', '', 'empfangerspannung')
    """
    if not _LONG - 1 <= len(word) <= _LONGEST or not word.isalpha() or not word.isascii() or meanings(word):
        return ""
    if compound(word[:-1]) and word[-1] in _BEHIND and word[-1] != word[-2]:
        return ""  # "tankl" beside "tankr"
    swapped = {word[:i] + word[i + 1] + word[i] + word[i + 2 :] for i in range(len(word) - 1)}
    made = {w for w in swapped if len(word) >= _LONG or w[0] == word[0]}
    if len(word) >= _LONG:
        made |= {word[:i] + word[i + 1 :] for i in range(1, len(word))}
        made |= {word[:i] + c + word[i + 1 :] for i in range(1, len(word)) for c in _ALPHABET}
        made |= {word[:i] + c + word[i:] for i in range(1, len(word) + 1) for c in _ALPHABET}
    known = sorted(w for w in made if WORDS.get(w) and len(w) >= _LONG - (w in swapped))
    if not known and len(word) > _LONG + 1 and word[-1] == "s" and (one := near(word[:-1])):
        return one  # of a plural
    if known or len(word) < 2 * _LONG:
        return known[0] if len({meanings(w) for w in known}) == 1 else ""
    for at in range(len(word) - _LONG + 1, _LONG - 2, -1):  # one part of a compound
        head, tail = word[:at], word[at:]
        if WORDS.get(head) and len(tail) > _LONG + 1 and (last := near(tail)):
            return head + last
        if WORDS.get(tail) and at > _LONG + 1 and (first := near(head) or abbreviated(head)) not in ("", head):
            return first + tail
    return ""
