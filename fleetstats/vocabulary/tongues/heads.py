"""Heads of columns in six languages, beside those that the reader knows (common practice).

The languages follow each other as in `bare.LANGUAGES`, one line or more to each.
"""

from __future__ import annotations

ENGINE = (
    "engine", "eng", "eng no", "eng sn", "esn", "engine sn", "engine s n", "ser no", "serial",
    "engine ser no", "serial no", "serial number", "s n", "sn", "engine serial no",
    "motor", "motor nr", "motornummer", "motornr", "seriennummer", "serien nr", "werknummer",
    "werk nr", "werknr", "triebwerk", "triebwerksnummer", "triebwerk nr", "snr",
    "moteur", "numéro de série", "no de série", "n de série", "n série", "numéro moteur",
    "no moteur", "n moteur", "n° moteur", "n° de série", "matricule",
    "número de serie", "no de serie", "número de motor", "no serie", "nº de serie", "nº motor",
    "matricola", "numero di serie", "motore", "numero motore", "n matricola", "matricola motore",
    "serienummer", "serie nr", "motor no",
)  # fmt: skip

HOURS = (
    "hours", "hrs", "h", "total hrs", "hours total", "hours run", "run hours", "current hrs",
    "hours today", "tach hours", "hobbs hours", "flight hours", "flying hours", "engine hrs",
    "hours at removal", "hours at failure", "total time hrs", "tt hrs", "tach time", "hobbs",
    "stunden", "std", "betriebsstunden", "laufzeit", "motorstunden", "stunden gesamt",
    "gesamtstunden", "betriebsstunden gesamt", "gesamtlaufzeit", "stundenstand", "flugstunden",
    "laufzeit gesamt", "stunden seit neu",
    "heures", "heures de fonctionnement", "heures totales", "heures moteur", "temps total",
    "heures depuis neuf", "heures de vol", "total heures",
    "horas", "horas totales", "horas de motor", "horas motor", "horas de funcionamiento",
    "horas desde nuevo", "tiempo total", "horas de vuelo", "total horas",
    "ore", "ore totali", "ore motore", "ore di funzionamento", "ore di volo", "ore da nuovo",
    "totale ore",
    "uren", "draaiuren", "totaal uren", "motoruren", "uren totaal", "totale uren", "bedrijfsuren",
    "vlieguren", "uren sinds nieuw",
)  # fmt: skip

SINCE_OVERHAUL = (
    "since oh", "since major", "tsoh", "hours since oh", "hrs since overhaul", "hrs smoh",
    "time since oh", "since overhaul",
    "seit überholung", "stunden seit überholung", "std seit überholung", "seit grundüberholung",
    "depuis révision", "heures depuis révision", "heures depuis rg", "depuis rg",
    "desde revisión", "horas desde revisión", "horas desde overhaul", "desde overhaul",
    "da revisione", "ore da revisione", "ore dalla revisione",
    "sinds revisie", "uren sinds revisie",
)  # fmt: skip

CAUSE = (
    "why", "failure mode", "reason removed", "why removed", "cause of failure", "defect", "fault",
    "ursache", "grund", "ausfallursache", "ausbaugrund", "schadensursache", "schaden", "befund",
    "cause", "motif", "raison", "cause de dépose", "cause de la panne", "motif de dépose",
    "causa", "motivo", "causa del fallo", "razón", "motivo de retirada", "causa de retirada",
    "causa guasto", "motivo rimozione", "causa rimozione",
    "oorzaak", "reden", "oorzaak storing", "reden uitbouw", "oorzaak uitval",
)  # fmt: skip

BUILD = (
    "mod std", "mod standard", "mod status", "series", "build level", "engine type", "type",
    "bauart", "baureihe", "baustand", "ausführung", "baumuster", "typ", "modell", "variante",
    "motortyp",
    "modèle", "type moteur", "variante",
    "modelo", "tipo", "versión", "variante",
    "modello", "versione", "allestimento",
    "bouwvorm", "uitvoering", "motortype",
)  # fmt: skip

SOURCE = (
    "member", "operator", "owner", "aero club",
    "verein", "klub", "halter", "betrieb", "werkstatt", "einsender",
    "exploitant", "opérateur", "aéroclub", "atelier",
    "operador", "taller", "aeroclub", "propietario",
    "officina", "esercente", "proprietario", "aero club",
    "vereniging", "bedrijf", "werkplaats", "eigenaar",
)  # fmt: skip

METER = (
    "meter", "recorder", "clock type",
    "zähler", "zählerart", "zählwerk",
    "compteur", "type de compteur", "horamètre",
    "contador", "tipo de contador", "horómetro",
    "contatore", "tipo contatore", "contaore",
    "teller", "soort teller",
)  # fmt: skip

CONFIRMED = ("shop confirmed", "bestätigt", "confirmé", "confirmado", "confermato", "bevestigd")

NOTE = (
    "remarks", "details", "history",
    "bemerkung", "bemerkungen", "anmerkung", "anmerkungen", "notiz", "notizen",
    "remarque", "remarques", "observations", "commentaire", "commentaires",
    "observaciones", "notas", "comentarios",
    "osservazioni", "annotazioni",
    "opmerking", "opmerkingen", "notities",
)  # fmt: skip

DATE = ("date", "day", "datum", "tag", "date", "jour", "fecha", "día", "data", "giorno", "dag")

LIFE_HEADS: dict[str, tuple[str, ...]] = {
    "engine": ENGINE,
    "source": SOURCE,
    "build": BUILD,
    "entry_hours": (
        "hours in", "hrs in", "hours when bought", "hours at joining", "hours at delivery",
        "stunden bei eintritt", "anfangsstunden", "startstunden", "stunden bei übernahme",
        "stunden am anfang", "std bei beginn", "stunden bei beginn",
        "heures au début", "heures initiales", "heures à l'entrée", "heures au départ",
        "horas iniciales", "horas al inicio", "horas al entrar",
        "ore iniziali", "ore all'inizio", "ore all'ingresso",
        "beginuren", "uren bij aanvang", "uren bij begin",
    ),
    "exit_hours": HOURS,
    "last_good_hours": (
        "last ok hours", "hours last good",
        "zuletzt gut", "letzte prüfung gut", "dernière visite bonne", "última revisión buena",
        "ultimo controllo buono", "laatste goede controle",
    ),
    "ending": (
        "status", "state", "current status", "disposition", "failed", "engine failed", "result",
        "zustand", "ende", "verbleib", "ausgang", "ausgefallen", "defekt",
        "état", "statut", "sort", "devenir", "en panne", "situation",
        "estado", "situación", "destino", "averiado",
        "stato", "esito", "guasto",
        "toestand", "afloop", "einde", "defect",
    ),
    "cause": CAUSE,
    "confirmed": CONFIRMED,
    "in_service_date": (
        "delivered", "delivery date", "date fitted", "fitted", "new on", "date installed",
        "einbau", "einbaudatum", "indienststellung", "in betrieb seit", "in dienst seit",
        "eingebaut", "eingebaut am",
        "mise en service", "date de mise en service", "date d'installation", "monté le",
        "puesta en servicio", "fecha de puesta en servicio", "fecha de instalación", "instalado",
        "messa in servizio", "data messa in servizio", "data installazione", "installato",
        "inbedrijfstelling", "in dienst", "datum in dienst", "ingebouwd",
    ),
    "last_reading_date": (
        *DATE, "read on", "hours as of", "hours on", "last seen",
        "letzte ablesung", "datum ablesung", "stand vom", "ablesedatum", "letzte meldung",
        "abgelesen am", "stand",
        "date de relevé", "date du relevé", "dernier relevé", "relevé le",
        "fecha de lectura", "última lectura",
        "data lettura", "ultima lettura",
        "datum aflezing", "laatste aflezing", "afgelezen op",
    ),
    "ended_date": (
        "removed on", "failed on", "date failed", "removed", "date out", "out of service",
        "ausbau", "ausbaudatum", "ausgebaut am", "ausfalldatum", "datum ausfall", "ende am",
        "date de dépose", "date de panne", "date de fin", "déposé le",
        "fecha de retirada", "fecha de fallo", "fecha fin", "fecha de baja",
        "data rimozione", "data guasto", "data fine",
        "datum uitbouw", "datum storing", "einddatum", "uitgebouwd op",
    ),
    "meter": METER,
    "found_at_teardown": (
        "found at strip", "befund bei zerlegung", "défaut au démontage", "fallo al desmontar",
        "difetto allo smontaggio", "gevonden bij demontage",
    ),
    "overhauled_at_hours": (
        "oh at", "overhaul at", "überholt bei", "révisé à", "revisado a", "revisionato a",
        "gereviseerd bij",
    ),
    "since_overhaul_hours": SINCE_OVERHAUL,
    "modified_at_hours": ("umgebaut bei", "modifié à", "modificado a", "modificato a"),
    "modified_to": ("umgebaut auf", "modifié en", "modificado a versión", "modificato in"),
    "count": ("number", "engines", "motoren", "moteurs", "motores", "motori", "anzahl",
              "nombre", "quantité", "cantidad", "quantità", "aantal"),
    "note": NOTE,
}  # fmt: skip

LOG_HEADS: dict[str, tuple[str, ...]] = {
    "engine": ENGINE,
    "date": DATE,
    "hours": HOURS,
    "kind": (
        "entry", "activity", "work", "type of event", "work done",
        "ereignis", "vorgang", "was", "art", "tätigkeit", "vorfall",
        "événement", "opération", "nature", "quoi", "intervention",
        "evento", "suceso", "tipo de evento", "operación", "trabajo",
        "tipo evento", "intervento", "operazione",
        "gebeurtenis", "voorval", "wat", "soort", "handeling",
    ),
    "cause": CAUSE,
    "confirmed": CONFIRMED,
    "component": ("bauteil", "teil", "composant", "pièce", "componente", "pieza", "onderdeel"),
    "since_overhaul_hours": SINCE_OVERHAUL,
    "new_reading_hours": ("neuer stand", "nouveau relevé", "nueva lectura", "nuova lettura",
                          "nieuwe stand"),
    "build": BUILD,
    "meter": METER,
    "source": SOURCE,
    "cost": ("kosten", "coût", "coste", "costo"),
    "note": NOTE,
}  # fmt: skip

CHECK_HEADS: dict[str, tuple[str, ...]] = {
    "engine": ENGINE,
    "hours": HOURS,
    "date": DATE,
    "method": ("prüfung", "contrôle", "control", "inspección", "controllo", "ispezione", "controle",
               "inspectie"),
    "result": ("ergebnis", "résultat", "resultado", "risultato", "uitslag", "resultaat"),
    "mode": ("fehler", "défaut", "falla", "difetto", "gebrek"),
    "note": NOTE,
}  # fmt: skip

LEAKDOWN_HEADS: dict[str, tuple[str, ...]] = {
    "engine": ENGINE,
    "hours": HOURS,
    "date": DATE,
    "cylinder": ("zylinder", "cylindre", "cilindro", "cilinder"),
    "reading": ("druck", "pression", "presión", "pressione", "druk"),
    "note": NOTE,
}

MINUTES = ("min", "mins", "minutes", "minuten", "minutos", "minuti")
"""Words of a head whose column counts minutes."""

METERS_IN_HEADS = {
    "tach": ("tach", "tacho", "tachometer", "drehzahlmesser", "compte-tours", "tacómetro",
             "contagiri", "toerenteller"),
    "hobbs": ("hobbs", "hobbsmeter"),
    "flight": ("flight", "flying", "airborne", "flugstunden", "flugzeit", "vol", "vuelo", "volo",
               "vlieguren"),
}  # fmt: skip
"""Words of a head that name the meter."""

HEAD_FILLERS = frozenset(
    """total gesamt totale totales totaux totali totaal engine motor moteur motore now today current
    so far bisher heute aktuell actuel actual attuale huidig no nr num of the der die das des de du
    del la le les el di da van h hrs t""".split()  # noqa: SIM905
)
"""Words of a head that change nothing of what it names."""

ABOUT = ("approx", "about", "around", "circa", "ca", "c", "est", "over", "more than", "at least",
         "etwa", "ungefähr", "rund", "über", "mehr als", "env", "environ", "plus de", "aprox",
         "unos", "más de", "oltre", "più di", "ongeveer", "meer dan")  # fmt: skip
"""Words before a figure that is not exact; a column of such cells is one of figures."""
