"""Words for causes in five languages, with the English word of the trade (common practice)."""

from __future__ import annotations

from fleetstats.vocabulary.tongues.bare import by_bare

CAUSES_ABROAD: dict[str, tuple[str, ...]] = {
    "exhaust valve": (
        "auslassventil", "auslaßventil", "soupape d'échappement", "soupape échappement",
        "válvula de escape", "valvola di scarico", "uitlaatklep",
    ),
    "intake valve": (
        "einlassventil", "einlaßventil", "soupape d'admission", "válvula de admisión",
        "valvola di aspirazione", "inlaatklep",
    ),
    "crankshaft": ("kurbelwelle", "vilebrequin", "cigüeñal", "albero motore", "krukas"),
    "camshaft": ("nockenwelle", "arbre à cames", "árbol de levas", "albero a camme", "nokkenas"),
    "piston": ("kolben", "piston", "pistón", "pistone", "zuiger"),
    "cylinder": ("zylinder", "cylindre", "cilindro", "cilinder"),
    "cylinder head": ("zylinderkopf", "culasse", "culata", "testata", "cilinderkop"),
    "bearing": ("lager", "palier", "cojinete", "cuscinetto"),
    "connecting rod": ("pleuel", "bielle", "biela", "biella", "drijfstang"),
    "gearbox": (
        "getriebe", "réducteur", "boîte de vitesses", "reductora", "riduttore", "reductiekast",
    ),
    "oil pump": ("ölpumpe", "pompe à huile", "bomba de aceite", "pompa olio", "oliepomp"),
    "turbocharger": ("turbolader", "turbocompresseur", "turbocompresor", "turbocompressore"),
    "ignition": ("zündung", "allumage", "encendido", "accensione", "ontsteking"),
    "fuel system": (
        "kraftstoffanlage", "circuit carburant", "sistema de combustible", "impianto carburante",
        "brandstofsysteem",
    ),
    "prop strike": (
        "propellerberührung", "bodenberührung", "propellerschlag", "contact hélice",
        "hélice au sol", "golpe de hélice", "urto elica", "elica a terra", "propellercontact",
    ),
    "accident": ("unfall", "accidente", "incidente", "ongeval"),
    "sold": ("verkauft", "verkauf", "vendu", "vente", "vendido", "venta", "venduto", "vendita",
             "verkocht", "verkoop"),
    "stored": ("eingelagert", "stocké", "almacenado", "immagazzinato", "opgeslagen"),
    "overhaul due": (
        "tbo", "tbo erreicht", "überholung fällig", "fin de potentiel", "potentiel atteint",
        "revisión programada", "revisione programmata", "fine tbo", "tbo bereikt",
    ),
}  # fmt: skip
"""Our words with those of other languages."""

CAUSE_OF = by_bare(CAUSES_ABROAD)
"""Each spelling with our word."""
