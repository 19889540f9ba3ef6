"""What a header's words mean: the field, the currency or the break quantity that they name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from itertools import product

# A header that is exactly one of these names its field. Spelt as `folded` leaves them: no accents, no points.
_EXACT_WORDS: dict[str, str] = {
    "part_number": "part number|part no|part num|part nr|part|parts number|partnumber|partno|pn|p/n|item number|item no|"
    "item nr|item|item code|sku|article number|article no|article|product code|product number|product no|product id|"
    "code|number|catalog number|catalogue number|cat no|reference|ref|ref no|reference number|stock code|stock number|"
    "our number|our part number|order code|order number|material|material number|"
    "artikelnummer|artikelnr|artikel nr|art nr|artnr|artikel no|artikel|teilenummer|teile nr|teilenr|bestellnummer|"
    "bestell nr|sachnummer|materialnummer|nummer|nr|referenznummer|"
    "code article|ref article|numero de piece|no de piece|n de piece|numero article|reference article|reference piece|"
    "code produit|"
    "numero de parte|no de parte|n de parte|nro de parte|numero de pieza|referencia|codigo|codigo de articulo|articulo|"
    "clave|codigo de producto|"
    "codice|codice articolo|cod|cod articolo|codice prodotto|articolo|numero articolo|numero parte|riferimento|"
    "artikelcode|onderdeelnummer|onderdeelnr|bestelnummer|referentie|"
    "numero da peca|no da peca|codigo da peca|referencia da peca|codigo do produto|peca|"
    "numer czesci|nr czesci|numer katalogowy|nr katalogowy|indeks|kod|kod produktu|symbol|"
    "parca no|parca numarasi|parca kodu|urun kodu|stok kodu|"
    "артикул|номер детали|код|код товара|каталожныи номер|номер|номер деталі|код товару|каталожнии номер",
    "description": "description|desc|part description|item description|product description|product|name|part name|"
    "designation|title|details|application|"
    "bezeichnung|beschreibung|benennung|artikelbezeichnung|artikelbeschreibung|text|"
    "libelle|descriptif|nom|descripcion|nombre|denominacion|descrizione|denominazione|omschrijving|benaming|naam|"
    "descricao|designacao|nome|opis|nazwa|aciklama|urun adi|tanim|наименование|описание|название|наименування|"
    "наименуваня|назва|опис",
    "price": "price|unit price|price each|each|net price|net|your price|dealer price|dealer net|trade price|cost|"
    "unit cost|dealer cost|wholesale price|wholesale|list price|list|retail|retail price|msrp|rrp|selling price|"
    "preis|nettopreis|netto|einzelpreis|stuckpreis|listenpreis|bruttopreis|haendlerpreis|handlerpreis|ek|ek preis|"
    "ek netto|vk|vk preis|uvp|"
    "prix|prix net|prix ht|prix unitaire|prix unitaire ht|pu|pu ht|tarif|prix public|prix ttc|prix achat|"
    "precio|precio neto|precio unitario|pvp|tarifa|precio de lista|coste|costo|"
    "prezzo|prezzo netto|prezzo unitario|prezzo di listino|listino|"
    "prijs|nettoprijs|netto prijs|stuksprijs|brutoprijs|inkoopprijs|"
    "preco|preco liquido|preco unitario|preco de tabela|"
    "cena|cena netto|cena jednostkowa|cena brutto|fiyat|birim fiyat|net fiyat|liste fiyati|цена|цена за шт|ціна",
    "currency": "currency|curr|cur|ccy|wahrung|waehrung|devise|monnaie|moneda|divisa|valuta|moeda|waluta|para birimi|"
    "doviz|валюта",
    "core_charge": "core|core charge|core price|core deposit|core value|core cost|deposit|exchange deposit|"
    "pfand|altteilpfand|altteilwert|altteil|pfandwert|consigne|caution|casco|cargo por casco|deposito|importe casco|"
    "cauzione|reso|valore carcassa|statiegeld|borg|inruil|caucao|casco valor|sucata|kaucja|depozito|залог|"
    "залоговая стоимость|депозит|застава",
    "stock": "stock|in stock|on hand|qty on hand|quantity on hand|stock qty|stock quantity|qty in stock|qoh|soh|"
    "available|availability|qty available|available qty|avail|inventory|"
    "bestand|lagerbestand|lager|verfugbar|verfugbarkeit|vorrat|en stock|dispo|disponible|disponibilite|qte en stock|"
    "existencias|existencia|disponibilidad|disponibile|giacenza|disponibilita|magazzino|voorraad|beschikbaar|"
    "op voorraad|estoque|disponivel|disponibilidade|stan|stan magazynowy|dostepnosc|na stanie|stok|stok adedi|mevcut|"
    "остаток|наличие|в наличии|склад|залишок|наявність|в наявності|наявнисть",
    "pack": "pack|pack size|pack qty|pack quantity|package|package qty|packaging|pkg|pkg qty|pack unit|per pack|box qty|"
    "carton qty|case qty|multiple|order multiple|unit of sale|sold in|qty per pack|"
    "vpe|ve|verpackungseinheit|packung|packungsgrosse|inhalt|gebinde|conditionnement|colisage|colis|emballage|"
    "embalaje|paquete|unidad de embalaje|confezione|pezzi per confezione|imballo|verpakking|verpakkingseenheid|"
    "embalagem|opakowanie|ilosc w opakowaniu|paket|ambalaj|paket adedi|упаковка|в упаковке|кратность|в упаковці",
    "minimum": "minimum|min qty|minimum qty|minimum quantity|min|min order|minimum order|min order qty|"
    "minimum order qty|minimum order quantity|moq|mindestmenge|mindestbestellmenge|min menge|mindestabnahme|"
    "quantite minimum|quantite minimale|qte min|qte mini|minimum de commande|mini|cantidad minima|pedido minimo|minimo|"
    "quantita minima|ordine minimo|minimum aantal|min aantal|minimale afname|quantidade minima|ilosc minimalna|"
    "minimum siparis|min adet|минимум|мин заказ|минимальныи заказ|мінімальне замовлення",
    "lead_days": "lead days|lead time|lead|leadtime|lead time days|days|delivery|delivery time|delivery days|"
    "dispatch days|ships in|ships in days|lieferzeit|lieferzeit tage|lieferfrist|delai|delai de livraison|delai jours|"
    "delai j|plazo|plazo de entrega|plazo dias|dias|tempi di consegna|tempo di consegna|consegna|giorni|levertijd|"
    "levertijd dagen|prazo|prazo de entrega|prazo dias|termin dostawy|czas dostawy|teslim suresi|teslimat|"
    "срок поставки|срок|термін поставки",
    "valid_until": "valid until|valid to|valid thru|valid through|price valid until|expires|expiry|expiry date|"
    "expiration|expiration date|expires on|until|end date|"
    "gultig bis|gultigkeit bis|preis gultig bis|valable jusqu au|valable jusqu|jusqu au|fin de validite|"
    "valido hasta|vigente hasta|hasta|valido fino al|valido fino a|fino al|scadenza|geldig tot|geldig t/m|"
    "valido ate|ate|wazne do|gecerlilik|gecerlilik tarihi|son gecerlilik|деиствует до|деиствительно до|діє до|диє до",
    "quantity": "qty from|from qty|quantity from|from quantity|break qty|break quantity|qty break|quantity break|"
    "price break|price break qty|break|min qty for price|menge ab|ab menge|staffel|staffelmenge|staffel ab|ab stuck|"
    "quantite a partir de|a partir de|qte a partir de|qte|palier|desde cantidad|cantidad desde|a partir de cantidad|"
    "escala|quantita da|da quantita|scaglione|vanaf aantal|aantal vanaf|staffel vanaf|quantidade a partir de|"
    "ilosc od|od ilosci|miktar|adet esigi|miktar baslangici|от количества|количество от|кількість від",
    "superseded_by": "superseded by|supersedes to|superseded to|replaced by|replacement|replacement number|new number|"
    "new part number|new part no|successor|supersession|ersetzt durch|nachfolger|nachfolgenummer|neue nummer|ersatznummer|"
    "remplace par|nouvelle reference|reference de remplacement|sustituido por|reemplazado por|nueva referencia|"
    "sostituito da|nuovo codice|vervangen door|opvolger|nieuw nummer|substituido por|nova referencia|zastapiony przez|"
    "zamiennik|nowy numer|yerine gecen|yeni parca no|yeni kod|заменен на|замена|новыи номер|замінено на|заміна|"
    "новии номер",
    "valid_from": "valid from|price valid from|effective|effective date|effective from|start date|gultig ab|preis gultig ab|"
    "valable a partir du|valable des|date d effet|valido desde|vigente desde|fecha de vigencia|valido dal|valido da|"
    "decorrenza|geldig vanaf|ingangsdatum|valido a partir de|valido de|wazne od|obowiazuje od|gecerlilik baslangici|"
    "деиствует с|деиствительно с|діє з|диє з|чинна з",
    "price_unit": "price unit|pricing unit|unit of price|price per|per|preiseinheit|pe|preis per|unite de prix|unidad de precio|"
    "unita di prezzo|prijseenheid|prijs per|unidade de preco|jednostka ceny|cena za|fiyat birimi|единица цены|цена за|"
    "одиниця ціни|ціна за",
    "group": "brand|make|group|product group|category|marke|hersteller|warengruppe|gruppe|marque|groupe|categorie|famille|marca|"
    "grupo|categoria|familia|gruppo|merk|groep|productgroep|marka|grupa|kategoria|grup|kategori|бренд|марка|группа|"
    "категория|група|категорія",
}  # fmt: skip
# Words that point to a field from within a longer header, in the order in which they are asked.
_POINTING_WORDS: tuple[tuple[str, str], ...] = (
    ("", r"\b(price list|pricelist|preisliste|valid from|effective|gultig ab|old|previous|discount|rabatt|weight|"
         r"gewicht|poids|peso|change|diff|oem|replaces?|replaced|supersed\w*|page|barcode|ean|upc|hs code|tariff|image|"
         r"photo|width|length|height|diameter|year|url|link)\b|%"),
    ("valid_until", r"\bvalid\w* (until|to|thru|through)\b|\bgultig bis\b|\bvalable jusqu|\bvalido (hasta|fino|ate)\b|"
                    r"\bgeldig tot\b|\bexpir"),
    ("core_charge", r"\bcore\b|\bpfand|\baltteil|\bconsigne\b|\bcasco\b|\bcauzione\b|\bstatiegeld\b|\bdeposit\b"),
    ("lead_days", r"\blead ?time\b|\blead\b.*\b(days|weeks)\b|\blieferzeit|\blieferfrist|\bdelai\b|\bplazo\b|"
                  r"\bconsegna\b|\blevertijd|\bprazo\b|\bdelivery\b.*\b(days|time|weeks)\b"),
    ("minimum", r"\bminimum\b.*\b(qty|order|quantity)\b|\bmin\b.*\b(qty|order|quantity)\b|\bmindest(menge|bestell)|\bmoq\b"),
    ("quantity", r"\b(break|from|ab|vanaf|desde)\b.*\b(qty|quantity|menge|aantal|cantidad)\b|\bstaffelmenge\b"),
    ("stock", r"\bstock\b(?!.*\b(code|number|no)\b)|\bon hand\b|\bavailab|\bbestand\b|\bverfugbar|\bvoorraad\b|"
              r"\bgiacenza\b|\bexistencia|\bestoque\b"),
    ("pack", r"\bpack\b|\bper (box|carton|pack)\b|\bvpe\b|\bverpackung|\bconditionnement\b|\bverpakking"),
    ("currency", r"\bcurrency\b|\bwahrung\b|\bdevise\b|\bmoneda\b|\bvaluta\b"),
    ("description", r"\bdescription\b|\bbezeichnung\b|\bbeschreibung\b|\bomschrijving\b|\bdescri[pz]"),
    ("part_number", r"\b(part|item|article|product|artikel|teile)\b.*\b(number|no|nr|code|id|num)\b|\bartikelnummer\b"),
    ("price", r"\bprice\b|\bcost\b|preis\b|\bprix\b|\bprecio\b|\bprezzo\b|prijs\b|\bpreco\b|\bcena\b|\bfiyati?\b|"
              r"\bцена\b|\bціна\b|\b(msrp|rrp|uvp|pvp|srp)\b|\btarif\b"),
)  # fmt: skip
_CURRENCY = re.compile(
    r"\b(usd|eur|gbp|cad|aud|nzd|mxn|brl|jpy|cny|chf|sek|nok|dkk|pln|czk|huf|try|rub|uah|inr|zar|ron|krw|ars|clp|"
    r"cop|pen|ils|aed|sgd|hkd|thb|us\$|euros?)\b", re.IGNORECASE)  # fmt: skip
_SIGNS = {"€": "EUR", "£": "GBP", "₺": "TRY", "₽": "RUB", "₴": "UAH", "zł": "PLN", "US$": "USD", "C$": "CAD",
          "CA$": "CAD", "A$": "AUD", "AU$": "AUD", "NZ$": "NZD", "R$": "BRL", "Mex$": "MXN"}  # fmt: skip
_SHARED_SIGNS = {
    "$": ("USD", "CAD", "AUD", "NZD", "MXN", "SGD", "HKD", "ARS", "CLP", "COP"),
    "¥": ("JPY", "CNY"),
    "kr": ("SEK", "NOK", "DKK", "ISK"),
}


def folded(text: str) -> str:
    """A header as its words: no case, accents or points.

    >>> folded("Part No."), folded("Gültig bis:"), folded("N° de pièce")
    ('part no', 'gultig bis', 'n de piece')
    """
    plain = unicodedata.normalize("NFKD", text.replace("#", " number ").replace("№", " number "))
    plain = "".join(mark for mark in plain if not unicodedata.combining(mark)).casefold()
    return " ".join(re.sub(r"[^\w+%/<>=-]|_", " ", plain.translate(str.maketrans("łıø", "lio"))).split())


def currency_named(text: str, ours: str = "") -> str:
    """The currency that a text names by code or sign, or ''; a shared sign means `ours` where that is one of its own.

    >>> currency_named("Price (EUR)"), currency_named("$12.50"), currency_named("$12.50", "CAD"), currency_named("5")
    ('EUR', 'USD', 'CAD', '')
    """
    code = _CURRENCY.search(text)
    if code:
        return {"US$": "USD", "EURO": "EUR", "EUROS": "EUR"}.get(code[1].upper(), code[1].upper())
    for sign in sorted(_SIGNS, key=len, reverse=True):
        if sign in text:
            return _SIGNS[sign]
    for sign, several in _SHARED_SIGNS.items():
        if re.search(rf"{re.escape(sign)}(?![a-z])", text):
            return ours if ours in several else several[0]
    return ""


# What a part number is called by putting two words together, in each language: word for number, joints, word for part.
_NUMBER_OF = (
    ("number|no|num|nr|code|id", "",
     "part|parts|item|article|product|stock|catalog|catalogue|cat|order|material|mfr part|oem part"),
    ("nr|nummer|no", "", "art|artikel|teil|teile|ersatzteil|bestell|best|sach|material|mat|produkt|katalog|lager|ident"),
    ("numero|no|n|nro|num|codigo|cod|ref|referencia", " de | ",
     "parte|pieza|articulo|producto|catalogo|repuesto|recambio|material"),
    ("numero|no|n|num|code|ref|reference", " de | du | d | ", "piece|article|produit|catalogue|commande|materiel"),
    ("codice|cod|numero|no|n|nr|num|rif", " di | ", "articolo|art|ricambio|prodotto|parte|pezzo|catalogo|materiale"),
    ("numero|no|n|codigo|cod|ref|referencia", " da | do | de | ", "peca|produto|artigo|item|catalogo|material"),
    ("nr|nummer|no|code", "", "artikel|art|onderdeel|bestel|product|materiaal|catalogus"),
    ("nr|numer|kod|indeks|symbol", " ", "czesci|katalogowy|towaru|produktu|artykulu|handlowy|materialu"),
    ("no|numarasi|kodu|nosu", "", "parca|urun|stok|malzeme|katalog"),
    ("номер|код|артикул|no|number", " ", "детали|запчасти|товара|изделия|каталожныи|по каталогу"),
    ("номер|код|артикул|no|number", " ", "деталі|запчастини|товару|виробу|каталожнии|за каталогом"),
)  # fmt: skip


def _part_numbers() -> Iterator[str]:
    """Each way to put a word for number and a word for part together: "art nr", "artnr", "no de pieza", "piece no"."""
    for numbers, joints, things in _NUMBER_OF:
        for number, thing in product(numbers.split("|"), things.split("|")):
            yield f"{thing} {number}"
            if not joints:
                yield f"{thing}{number}"
            yield from (f"{number}{joint}{thing}" for joint in joints.split("|") if joint)


_EXACT = dict.fromkeys(_part_numbers(), "part_number") | {
    folded(words): name for name, phrases in _EXACT_WORDS.items() for words in phrases.split("|")
}


@lru_cache(maxsize=4096)
def meaning(title: str) -> tuple[str, int]:
    """The field that a header names, and how surely: 3 by its very words, 2 by a word in it, 0 not at all.

    >>> meaning("Part No."), meaning("Preis netto EUR"), meaning("Colour")
    (('part_number', 3), ('price', 2), ('', 0))
    """
    words = folded(title)
    bare = " ".join(_CURRENCY.sub(" ", folded(re.sub(r"[€$£¥₺₽₴]", " ", title))).split())
    for text in (words, bare, " ".join(words.replace("-", " ").split())):
        if text in _EXACT:
            return _EXACT[text], 3
    if len(words) > 60:
        return "", 0
    for name, pattern in _POINTING_WORDS:
        if re.search(pattern, words):
            return name, 2 if name else 0
    return "", 0


_BREAK = re.compile(
    r"(?P<from>(?:qty|quantity|menge|from|ab|a partir de|des|da|desde|vanaf|od|от|від|x|break|>=|≥|>) ?)*"
    r"(?P<first>\d{1,6}) ?"
    r"(?P<to>(?:-|to|bis|a|tot) ?(?P<last>\d{1,6}))?"
    r"(?P<more>\+|and (?:up|more|over)|or more|plus|up|und mehr|et plus|y mas|e oltre|en meer|e mais)? ?"
    r"(?P<unit>pcs?|pieces?|units?|ea|stuck|stk|szt|adet|шт|pz|uds?)?"
)


@lru_cache(maxsize=4096)
def break_quantity(title: str) -> int | None:
    """The quantity from which a column's prices hold, or None where its header names none.

    >>> [break_quantity(t) for t in ("5+", "Qty 10", "10-24", "ab 5 Stück", "10 +", "Price 2", "1-9", "2-2", "2026")]
    [5, 10, 10, 5, 10, None, 1, 2, None]
    """
    if len(title) > 40:
        return None
    text = re.sub(r"[–—−‐‑]", "-", title.replace("≥", ">="))
    words = re.sub(r"\b(price|preis|prix|precio|prezzo|prijs|preco|cena|at|for|net|je|fiyat|цена|ціна)\b", " ",
                   _CURRENCY.sub(" ", folded(text)))  # fmt: skip
    found = _BREAK.fullmatch(" ".join(re.sub(r"(\d) *\+", r"\1+", words).replace(" - ", "-").split()))
    if not found or not (found["from"] or found["to"] or found["more"] or found["unit"]):
        return None
    first, last = int(found["first"]), int(found["last"] or 0)
    if found["to"] and (last < first or 1950 < first <= last < 2100):  # 2019-2024 are years
        return None
    return first + 1 if re.search(r">(?!=)", words) else first or None
