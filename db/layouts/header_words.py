"""What the words in headers mean, in the languages of European and American clubs."""

from __future__ import annotations

import re
from dataclasses import dataclass

from db.layouts.plain_words import words_of

__all__ = [
    "DAY_FIRST_WORDS",
    "Header",
    "header_meaning",
    "is_summary",
    "parted",
    "speaks_day_first",
    "unit_of",
]

_WORDS = {
    "athlete": "athlete athletes player players name id code who subject participant pitcher "
    "spieler spielerin sportler sportlerin athlet athletin joueur joueuse nom jugador jugadora "
    "atleta deportista nombre giocatore giocatrice nome jogador jogadora zawodnik zawodniczka "
    "speler speelster naam urheilija pelaaja nimi spelare idrottare namn spiller navn utover",
    "first name": "first given forename vorname prenom imie voornaam fornamn etunimi fornavn",
    "last name": "last surname family nachname familienname apellido apellidos cognome sobrenome "
    "apelido nazwisko achternaam efternamn sukunimi etternavn efternavn",
    "date": "date datum fecha data day tag jour dia giorno dzien dag paivamaara pvm paiva when "
    "timestamp datetime datetimeutc started start termin dato unix epoch",
    "clock": "time clock hour uhrzeit zeit heure hora ora godzina czas tijd tid klockslag klokken "
    "aika kello",
    "effort": "rep reps repetition trial attempt effort versuch wiederholung essai tentative "
    "intento repeticion prova tentativo tentativa repeticao proba powtorzenie poging herhaling "
    "forsok yritys toisto set shot run jump throw kast sprung saut salto # no nr num number "
    "nummer numero index forsog",
    "value": "value result score wert ergebnis resultat valeur valor resultado valore risultato "
    "wynik wartosc waarde resultaat varde arvo tulos measurement reading verdi",
    "measure": "measure metric test exercise parameter variable ubung mesure metrica prueba "
    "esercizio exercicio cwiczenie oefening ovning harjoitus testi discipline",
    "unit": "unit units einheit unite unidad unidade unita jednostka eenheid enhet yksikko enhed",
    "volume_before": "before previous prior vorher avant antes prima przed voor fore ennen warmup",
    "ambient_c": "temperature temp ambient temperatur temperatura temperatuur lampotila",
    "note": "note notes comment comments remark remarks bemerkung kommentar remarque commentaire "
    "comentario nota notatka opmerking anteckning huomautus",
}
_MEANINGS: dict[str, list[str]] = {}
for _meaning, _listed in _WORDS.items():
    for _word in _listed.split():
        _MEANINGS.setdefault(_word, []).append(_meaning)

_SUMMARY = frozenset(
    "best mean average avg max maximum min minimum sd std stdev cv total totals sum median range "
    "diff difference change delta rank percentile zscore z gesamt summe mittelwert mittel schnitt "
    "durchschnitt anzahl beste bester moyenne somme meilleur total media promedio suma mejor "
    "totale somma migliore melhor srednia razem suma najlepszy gemiddelde totaal som beste "
    "medel medelvarde summa basta keskiarvo yhteensa paras gjennomsnitt sum count".split()
)
_OF_A_GROUP = frozenset("team squad group overall grand all mannschaft equipe equipo n".split())
DAY_FIRST_WORDS = frozenset(
    # Words that an English header may also have are left out, because they tell nothing.
    "spieler spielerin sportler sportlerin athlet athletin joueur joueuse nom jugador jugadora "
    "atleta deportista nombre giocatore giocatrice nome jogador jogadora zawodnik zawodniczka "
    "speler speelster naam urheilija pelaaja nimi spelare idrottare namn spiller navn vorname "
    "prenom imie voornaam fornamn etunimi nachname apellido cognome nazwisko achternaam efternamn "
    "sukunimi fecha jour dia giorno dzien paivamaara uhrzeit heure hora godzina tijd "
    "klockslag versuch essai intento prova tentativa proba poging forsok yritys".split()
)
"""Words of languages in which nobody writes the month before the day."""

_UNITS = {
    "mm": "mm millimeter millimetre millimeters millimetres",
    "cm": "cm centimeter centimetre centimeters centimetres centimetros zentimeter",
    "m": "m meter metre meters metres metros metri",
    "in": 'in inch inches " ″',
    "ft": "ft foot feet",
    "m/s": "m/s mps m·s-1 m.s-1 ms-1 m*s-1 m·s⁻¹ meters/second",
    "km/h": "km/h kmh kph kmph km·h-1",
    "mph": "mph mi/h",
    "cm/s": "cm/s",
    "mm/s": "mm/s",
    "ft/s": "ft/s fps",
    "ms": "ms msec millisecond milliseconds millisekunden",
    "s": "s sec secs second seconds sekunde sekunden secondes segundos secondi sek",
    "min": "min minutes",
    "°C": "°c c celsius",
    "°F": "°f f fahrenheit",
    "kg": "kg kilogram kilograms",
    "lb": "lb lbs pound pounds",
    "N": "n newton newtons",
    "lbf": "lbf",
}
_UNIT_BY_WORD = {word: unit for unit, listed in _UNITS.items() for word in listed.split()}
_TIME = frozenset("min mins minutes time duration minuten dauer".split())
_BRACKETED = re.compile(r"[\[(]([^\])]*)[\])]")
# Units that need no brackets at the end, because no other word there is written like them.
_AT_THE_END = frozenset(
    "mm cm in inches inch ft m/s mps km/h kmh kph mph ms sec secs seconds kg lb lbs m s "
    "meters metres".split()
)


@dataclass(frozen=True)
class Header:
    """A header, parsed.

    Attributes
    ----------
    text : str
        The header as it is written.
    words : tuple of str
        Its words, as `words_of` gives them, without the unit.
    unit : str
        The unit that it names; empty if it names none.
    other_unit : str
        What stands in its brackets, if that is not a known unit.
    """

    text: str
    words: tuple[str, ...]
    unit: str
    other_unit: str


def unit_of(text: str) -> str:
    """Return the unit that a text names; empty if it is not a known one."""
    return _UNIT_BY_WORD.get(text.strip().strip("[]().").casefold(), "")


def parted(text: str) -> Header:
    """Split a header into words and unit."""
    unit = other = ""
    kept = text
    for found in _BRACKETED.finditer(text):
        if said := unit_of(found[1]):
            unit = said
            kept = kept.replace(found[0], " ")
        elif not other:
            other = found[1].strip()
    pieces = re.split(r"[\s_,;:]+", kept.strip())
    if not unit and len(pieces) > 1 and pieces[-1].casefold() in _AT_THE_END:
        # `10 m` is a distance, not the unit of the values.
        distance = pieces[-1].casefold() in ("m", "ft") and pieces[-2].isdigit()
        if not distance:
            unit, kept = unit_of(pieces[-1]), " ".join(pieces[:-1])
    return Header(text, words_of(kept), unit, other)


def header_meaning(header: Header) -> tuple[str, ...]:
    """Return what a header can mean, the likeliest first."""
    if {"warm", "up"} <= {*header.words} and not header.unit and not _TIME & {*header.words}:
        return ("volume_before",)
    found: dict[str, int] = {}
    for place, word in enumerate(header.words):
        for meaning in _MEANINGS.get(word, ()):
            found.setdefault(meaning, place)
    if {"first name", "last name"} & found.keys():
        found.pop("athlete", None)
    # "Date and time" is a date; of "time of day" only the cells can tell.
    if {"date", "clock"} <= found.keys() and header.words[0] not in _WORDS["clock"].split():
        found.pop("clock")
    return tuple(found)


def is_summary(text: str) -> bool:
    """Tell whether a header or the head of a row names a summary, such as a mean or a total."""
    words = words_of(text)
    return any(word in _SUMMARY for word in words)


def is_only_summary(text: str) -> bool:
    """Tell whether a text says only that its row is a summary."""
    words = [word for word in words_of(text) if not word.isdigit()]
    return any(word in _SUMMARY for word in words) and all(
        word in _SUMMARY or word in _OF_A_GROUP for word in words
    )


def speaks_day_first(text: str) -> bool:
    """Tell whether a header is in a language in which the day comes before the month."""
    return any(word in DAY_FIRST_WORDS for word in words_of(text))
