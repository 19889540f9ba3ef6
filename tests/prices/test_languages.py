"""Every field of a price sheet is known by its usual words in each language that suppliers write."""

from __future__ import annotations

import pytest

from sourcing.prices.layout import FIELDS
from sourcing.prices.paid import our_prices
from sourcing.prices.words import break_quantity, meaning

# Common words of the trade, no source; in the order of FIELDS.
LANGUAGES = {
    "English": "Part Number|Description|Price|Currency|Core Charge|Stock|Pack|Minimum|Lead Time|Valid Until|Break Qty|"
    "Superseded by|Effective Date|Price Unit|Brand",
    "Spanish": "Código|Descripción|Precio|Moneda|Casco|Existencias|Embalaje|Pedido mínimo|Plazo de entrega|Válido hasta|"
    "Cantidad desde|Sustituido por|Válido desde|Unidad de precio|Marca",
    "French": "Référence|Désignation|Prix|Devise|Consigne|En stock|Conditionnement|Quantité minimum|Délai de livraison|"
    "Valable jusqu'au|Quantité à partir de|Remplacé par|Valable à partir du|Unité de prix|Marque",
    "German": "Artikelnummer|Bezeichnung|Preis|Währung|Altteilpfand|Bestand|VPE|Mindestmenge|Lieferzeit|gültig bis|Menge ab|"
    "Ersetzt durch|gültig ab|Preiseinheit|Marke",
    "Italian": "Codice articolo|Descrizione|Prezzo|Valuta|Cauzione|Giacenza|Confezione|Quantità minima|Tempi di consegna|"
    "Valido fino al|Quantità da|Sostituito da|Valido dal|Unità di prezzo|Marca",
    "Portuguese": "Referência|Descrição|Preço|Moeda|Caução|Estoque|Embalagem|Quantidade mínima|Prazo de entrega|Válido até|"
    "Quantidade a partir de|Substituído por|Válido a partir de|Unidade de preço|Marca",
    "Dutch": "Artikelnummer|Omschrijving|Prijs|Valuta|Statiegeld|Voorraad|Verpakking|Minimale afname|Levertijd|Geldig tot|"
    "Aantal vanaf|Vervangen door|Geldig vanaf|Prijseenheid|Merk",
    "Polish": "Numer części|Nazwa|Cena|Waluta|Kaucja|Stan magazynowy|Opakowanie|Ilość minimalna|Czas dostawy|Ważne do|Ilość od|"
    "Zastąpiony przez|Ważne od|Jednostka ceny|Marka",
    "Turkish": "Parça No|Açıklama|Fiyat|Para birimi|Depozito|Stok|Ambalaj|Minimum sipariş|Teslim süresi|Geçerlilik tarihi|"
    "Adet eşiği|Yerine geçen|Geçerlilik başlangıcı|Fiyat birimi|Marka",
    "Russian": "Артикул|Наименование|Цена|Валюта|Залог|Остаток|Упаковка|Минимальный заказ|Срок поставки|Действует до|От количества|"
    "Заменён на|Действует с|Единица цены|Бренд",
    "Ukrainian": "Код товару|Назва|Ціна|Валюта|Застава|Залишок|Упаковка|Мінімальне замовлення|Термін поставки|Діє до|"
    "Кількість від|Замінено на|Діє з|Одиниця ціни|Марка",
}  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_has_a_word_for_every_field(language):
    words = LANGUAGES[language].split("|")
    order = ("part_number", "description", "price", "currency", "core_charge", "stock", "pack", "minimum", "lead_days",
             "valid_until", "quantity", "superseded_by", "valid_from", "price_unit", "group")  # fmt: skip
    assert set(order) == set(FIELDS)
    assert {word: meaning(word)[0] for word in words} == dict(zip(words, order, strict=True))


@pytest.mark.parametrize(
    "title",
    ["Art.-Nr.", "Artikel-Nr.", "Art. Nr", "ArtNr.", "Teile-Nr.", "Best.-Nr.", "Sach-Nr.", "Part No.", "P/N", "Item #",
     "Part-Number",
     "Réf.", "N° de pièce", "Code article", "Réf. produit", "Nº de pieza", "Número de parte", "Cód. artículo", "Codice articolo",
     "Cod. ricambio", "Número de peça", "Código do produto", "Onderdeelnr.", "Bestel-nr.", "Nr katalogowy", "Numer części",
     "Parça No", "Ürün kodu", "Каталожный №", "Номер детали", "№ детали", "Код товара", "Код товару", "Номер деталі"],
)  # fmt: skip
def test_a_part_number_is_known_by_any_usual_pair_of_words(title):
    assert meaning(title) == ("part_number", 3)


@pytest.mark.parametrize(
    "title", ["Teileart", "Nettopreis", "Order qty", "Item weight", "Catalogue page", "Parts per pack"]
)
def test_words_for_parts_alone_do_not_make_a_surer_number(title):
    assert meaning(title) != ("part_number", 3)


@pytest.mark.parametrize(
    "ours, others",
    [("Net price", "List price"), ("Precio neto", "Precio con IVA"), ("Prix HT", "Prix TTC"), ("Nettopreis", "Bruttopreis"),
     ("Prezzo netto", "Prezzo di listino"), ("Preço líquido", "Preço com IVA"), ("Nettoprijs", "Prijs incl. btw"),
     ("Cena netto", "Cena brutto"), ("Net fiyat", "Fiyat KDV dahil"), ("Цена без НДС", "Цена с НДС"),
     ("Ціна без ПДВ", "Ціна з ПДВ")],
)  # fmt: skip
def test_the_price_without_tax_is_ours_in_every_language(ours, others):
    assert meaning(ours)[0] == meaning(others)[0] == "price"
    assert our_prices([0, 1], [others, ours]) == ([1], True)


@pytest.mark.parametrize("title", ["from 5", "ab 5 Stück", "à partir de 5", "desde 5", "da 5", "vanaf 5", "od 5 szt.", "от 5 шт.",
                                   "від 5 шт.",
                                   "5 adet", "a partir de 5"])  # fmt: skip
def test_a_break_is_known_in_every_language(title):
    assert break_quantity(title) == 5
