"""Words for endings and events in five languages, and English ones that the reader leaves open.

Common practice, no source. Words for an overhaul alone stand in `OVERHAULED`: due, or ill?
"""

from __future__ import annotations

from fleetstats.vocabulary.tongues.bare import by_bare

ENDINGS_ABROAD: dict[str, tuple[str, ...]] = {
    "running": (
        "flies", "ok", "okay", "airworthy", "serviceable", "in operation", "live", "on wing",
        "läuft", "in betrieb", "fliegt", "aktiv", "im einsatz", "in dienst", "im dienst",
        "en service", "en vol", "actif", "en marche", "tourne", "en fonctionnement",
        "en servicio", "activo", "en funcionamiento", "en uso", "volando",
        "in servizio", "attivo", "in funzione", "in uso", "in volo",
        "in gebruik", "actief", "draait", "vliegt", "in bedrijf",
    ),
    "failed": (
        "ausgefallen", "ausfall", "kaputt", "motorschaden", "versagt", "defekt", "motorausfall",
        "en panne", "panne", "panne moteur", "cassé", "défaillance", "défaillant", "hs",
        "hors service",
        "averiado", "avería", "fallo", "falló", "fallado", "roto", "fallo de motor",
        "guasto", "in avaria", "avaria", "rotto", "avaria motore",
        "defect", "storing", "kapot", "uitgevallen", "motorstoring",
    ),
    "found-at-check": (
        "befund bei prüfung", "bei kontrolle gefunden", "trouvé en visite", "trouvé au contrôle",
        "hallado en inspección", "trovato al controllo", "gevonden bij controle",
    ),
    "removed-finding": (
        "wegen befund ausgebaut", "ausbau wegen befund", "déposé sur constat",
        "retirado por hallazgo", "rimosso per difetto", "uitgebouwd wegens bevinding",
    ),
    "planned-overhaul": (
        "tbo", "tbo reached", "reached tbo", "time expired", "life expired", "overhaul at tbo",
        "tbo erreicht", "laufzeit erreicht", "planmäßige überholung", "grundüberholung fällig",
        "überholung fällig", "planmäßig überholt",
        "fin de potentiel", "révision programmée", "potentiel atteint", "révision planifiée",
        "fin de tbo", "revisión programada", "potencial cumplido",
        "revisione programmata", "fine tbo", "scadenza tbo",
        "geplande revisie", "tbo bereikt", "revisie gepland",
    ),
    "removed": (
        "sold on", "exported", "in store", "in storage", "written off", "part exchange",
        "verkauft", "ausgebaut", "stillgelegt", "eingelagert", "abgegeben", "ausgemustert",
        "exportiert",
        "vendu", "vendue", "déposé", "stocké", "réformé", "exporté", "retiré",
        "vendido", "retirado", "almacenado", "dado de baja", "desmontado", "exportado",
        "venduto", "rimosso", "immagazzinato", "dismesso", "smontato", "esportato",
        "verkocht", "uitgebouwd", "opgeslagen", "buiten dienst", "afgevoerd",
    ),
    "lost": (
        "lost track", "gone", "not known where", "no reply",
        "unbekannt verzogen", "keine meldung", "keine antwort", "verschollen",
        "perdu de vue", "sans nouvelles", "sin noticias", "sin contacto",
        "perso di vista", "senza notizie", "geen contact", "uit het oog verloren",
    ),
    "modified": ("umgebaut", "umgerüstet", "modifié", "modificado", "modificato", "omgebouwd"),
}  # fmt: skip
"""Our endings with other words for each."""

EVENTS_ABROAD: dict[str, tuple[str, ...]] = {
    "installed": (
        "fitted", "einbau", "eingebaut", "indienststellung", "montage", "monté", "mise en service",
        "installé", "instalado", "montado", "puesta en servicio", "instalación",
        "installato", "montato", "messa in servizio", "ingebouwd", "inbouw", "in dienst gesteld",
    ),
    "reading": (
        "hours read", "annual reading", "ablesung", "stand", "zählerstand", "relevé",
        "relevé d'heures", "lectura", "lettura", "aflezing", "tellerstand", "stand opgenomen",
    ),
    "check": (
        "annual", "50 h check", "100 h check", "annual inspection", "prüfung", "kontrolle",
        "wartung", "jahresnachprüfung", "nachprüfung", "100 h kontrolle", "visite", "contrôle",
        "visite annuelle", "visite 100 h", "inspección", "revisión anual", "controllo",
        "ispezione", "ispezione annuale", "controle", "inspectie", "jaarlijkse inspectie",
    ),
    "finding": (
        "befund", "mangel", "beanstandung", "constat", "défaut trouvé", "hallazgo", "difetto",
        "difetto trovato", "bevinding", "gebrek",
    ),
    "failed": ENDINGS_ABROAD["failed"],
    "removed": (
        "ausbau", "ausgebaut", "dépose", "déposé", "retirado", "desmontaje", "desmontado",
        "rimosso", "rimozione", "smontaggio", "smontato", "uitbouw", "uitgebouwd",
    ),
    "overhauled": (
        "grundüberholung", "révision générale", "revisión general", "revisione generale",
        "algehele revisie",
    ),
    "returned": (
        "wieder in betrieb", "wieder eingebaut", "remise en service", "remonté",
        "vuelta al servicio", "reinstalado", "rimesso in servizio", "reinstallato",
        "weer in dienst", "opnieuw ingebouwd",
    ),
    "retired": (
        "verkauft", "ausgemustert", "verschrottet", "vendu", "réformé", "vendido",
        "dado de baja", "venduto", "dismesso", "verkocht", "afgevoerd",
    ),
    "modified": ENDINGS_ABROAD["modified"],
    "meter-changed": (
        "zählerwechsel", "zähler getauscht", "changement de compteur", "compteur remplacé",
        "cambio de contador", "cambio contatore", "teller vervangen",
    ),
    "lost": ENDINGS_ABROAD["lost"],
}  # fmt: skip
"""Our kinds of event with other words for each."""

OVERHAULED = (
    "overhaul", "overhauled", "oh", "o h", "major overhaul", "überholt", "überholung", "revidiert",
    "révisé", "révision", "revisado", "revisión", "revisionato", "revisione", "gereviseerd",
    "revisie",
)  # fmt: skip
"""Words that say that an engine was overhauled and not why: the hours were due, or it was ill."""

YES = ("yes", "y", "x", "true", "ja", "j", "oui", "o", "si", "sí", "sì", "s", "vero", "vrai")
NO = ("no", "n", "false", "nein", "non", "nee", "falso", "faux")

ASKS_FAILED = (
    "failed", "failure", "engine failed", "failed y n", "ausgefallen", "ausfall", "defekt",
    "en panne", "panne", "averiado", "fallo", "avería", "guasto", "avaria", "storing", "defect",
    "uitgevallen",
)  # fmt: skip
"""Heads of a column of yes and no that asks whether the engine failed."""

ASKS_RUNNING = (
    "running", "in service", "flying", "active", "läuft", "in betrieb", "aktiv", "en service",
    "actif", "en servicio", "activo", "in servizio", "attivo", "in bedrijf", "actief", "in gebruik",
)  # fmt: skip
"""Heads of a column of yes and no that asks whether it runs."""

ENDING_OF = by_bare(ENDINGS_ABROAD)
"""Each spelling with its ending."""

EVENT_OF = by_bare(EVENTS_ABROAD)
"""Each spelling with its kind of event."""
