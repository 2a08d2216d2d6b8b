"""Clients as vCard and CSV: RFC 6350, RFC 2426, vobject as a second reader, and the consent rule of the records."""

from dataclasses import replace
from datetime import date

import pytest
import vobject
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from estimator.errors import BadInputError
from estimator.exchange.contacts import Agreed, Contact, initials
from estimator.exchange.contacts_csv import columns_from_text, contacts_of_csv, contacts_to_csv
from estimator.exchange.taking_contacts import Choice, Fate, contacts_kept, preview, take_in
from estimator.exchange.vcard import contacts_of_vcard, vcards_of
from estimator.records import model
from estimator.records.clients import agreed, client, client_row, withdraw_consent
from estimator.records.consent_scopes import Scope

DAY = date(2026, 10, 5)
SIGNED = Agreed(DAY, "signed")
MARIGOLD = Contact("Marigold Dunmore", "marigold@example.org; +49 30 5550 1234", "M. D.", "a" * 32, SIGNED)

# The example card of RFC 6350, section 8 (author's own), shortened to what is read here; typed from memory of the RFC.
RFC_6350 = (
    "BEGIN:VCARD\r\nVERSION:4.0\r\nFN:Simon Perreault\r\nN:Perreault;Simon;;;ing. jr,M.Sc.\r\nBDAY:--0203\r\n"
    "ANNIVERSARY:20090808T1430-0500\r\nGENDER:M\r\nLANG;PREF=1:fr\r\nLANG;PREF=2:en\r\n"
    'TEL;VALUE=uri;TYPE="voice,work";PREF=1:tel:+1-418-656-9254;ext=102\r\n'
    'TEL;VALUE=uri;TYPE="work,cell,voice,video,text":tel:+1-418-262-6501\r\n'
    "EMAIL;TYPE=work:simon.perreault@viagenie.ca\r\nTZ:-0500\r\nEND:VCARD\r\n"
)
# Folding as RFC 2426 (vCard 3.0), 2.6 shows it: a line broken anywhere, going on after one space. From memory.
RFC_2426 = (
    "BEGIN:VCARD\nVERSION:3.0\nFN:Long\n  Name\\, Esq.\nitem1.EMAIL;TYPE=INTERNET:long\n .name@example.org\n"
    "TEL;TYPE=CELL:0151 555 0001\nNOTE:a secret\nPHOTO;ENCODING=b:AAAA\n BBBB\nEND:VCARD\n"
)


def test_the_example_card_of_the_rfc_is_read():
    (read,) = contacts_of_vcard(RFC_6350)
    assert read.name == "Simon Perreault"
    assert read.contact == "+1-418-656-9254; +1-418-262-6501; simon.perreault@viagenie.ca"


def test_a_folded_card_of_version_3_is_read_and_its_note_and_picture_are_not():
    (read,) = contacts_of_vcard(RFC_2426)
    assert read == Contact("Long Name, Esq.", "long.name@example.org; 0151 555 0001")


def test_a_card_without_fn_takes_the_name_from_its_parts():
    (read,) = contacts_of_vcard("BEGIN:VCARD\r\nVERSION:3.0\r\nN:Dun\\;more;Mari;;;\r\nEND:VCARD\r\n")
    assert read.name == "Mari Dun;more"


signs = st.characters(exclude_categories=("Cs", "Cc"))
texts = st.text(signs | st.sampled_from('\n\\;,:"=+-@'), max_size=60).map(str.strip)
names = st.text(signs | st.sampled_from('\\;,:"=+-@'), min_size=1, max_size=90).map(str.strip).filter(bool)
people = st.builds(
    Contact,
    names,
    texts,
    names,
    st.text("0123456789abcdef", min_size=32, max_size=32),
    st.none() | st.builds(Agreed, st.dates(), names),
)


@pytest.mark.slow
@settings(deadline=None, max_examples=25)
@given(st.lists(people, min_size=1, max_size=3))
def test_contacts_come_back_from_vcard_letter_by_letter(contacts):
    assert contacts_of_vcard(vcards_of(tuple(contacts))) == tuple(contacts)


@settings(deadline=None, max_examples=25)
@given(st.lists(people, min_size=1, max_size=3))
def test_contacts_come_back_from_csv_letter_by_letter(contacts):
    assert contacts_of_csv(contacts_to_csv(tuple(contacts)), {}) == tuple(contacts)


@settings(deadline=None, max_examples=25)
@given(people)
def test_lines_are_folded_at_75_octets_and_a_second_reader_agrees(contact):
    text = vcards_of((contact,))
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))  # RFC 6350, 3.2
    # vobject breaks lines at signs that the RFC does not break at; without those both read the same.
    if any(sign in text for sign in "\x85\u2028\u2029"):
        return
    read = vobject.readOne(text)
    assert read.version.value == "4.0"
    assert read.fn.value == contact.name
    assert [each.value for each in read.contents.get("email", [])] == list(contact.emails)


def test_a_card_that_vobject_writes_is_read():
    card = vobject.vCard()
    card.add("n").value = vobject.vcard.Name(family="Dunmore", given="Marigold")
    card.add("fn").value = "Marigold Dunmore"
    card.add("email").value = "marigold@example.org"
    (read,) = contacts_of_vcard(card.serialize())
    assert (read.name, read.emails) == ("Marigold Dunmore", ("marigold@example.org",))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("BEGIN:VCARD\nVERSION:2.1\nFN:x\nEND:VCARD", "vCard 2.1"),
        ("BEGIN:VCARD\nVERSION:4.0\nFN:x", "cut short"),
        ("BEGIN:VCARD\nVERSION:4.0\nBEGIN:VCARD\n", "does not end"),
        ("END:VCARD", "no beginning"),
        ("hello", "no contact"),
        ("BEGIN:VCARD\nVERSION:4.0\nFN:x\nX-TRESSMETER-RECORD-CONSENT-ON:soon\nEND:VCARD", "is no day"),
    ],
)
def test_a_vcard_that_can_not_serve_is_refused_in_a_sentence(text, said):
    with pytest.raises(BadInputError, match=said):
        contacts_of_vcard(text)


@pytest.mark.parametrize("between", [",", ";", "\t"])
def test_columns_of_other_programs_are_found_by_their_usual_names(between):
    head = between.join(("First Name", "Last Name", "E-mail", "Mobile Phone", "Birthday"))
    read = contacts_of_csv(head + "\n" + between.join(("Mari", "Dunmore", "m@example.org", "0151 5550001", "1990")), {})
    assert read == (Contact("Mari Dunmore", "m@example.org; 0151 5550001"),)


def test_columns_are_chosen_by_a_person_and_a_wrong_choice_is_told():
    text = "Kundin,Nummer\nMari,0151 5550001\n"
    assert contacts_of_csv(text, columns_from_text("name=Kundin,phone=Nummer"))[0].contact == "0151 5550001"
    for columns, said in (("", "--columns name"), ("name=Wer", "no column 'Wer'")):
        with pytest.raises(BadInputError, match=said):
            contacts_of_csv(text, columns_from_text(columns))
    with pytest.raises(BadInputError, match="ours=theirs"):
        columns_from_text("shoe=42")


# --- into the records


def rows(store, table=model.Client):
    with store.looking() as session:
        return session.scalar(select(func.count()).select_from(table))


def fates(judged):
    return [each.fate for each in judged]


def test_looking_writes_nothing_at_all(store):
    judged = preview(store, (MARIGOLD,), Choice())
    assert fates(judged) == [Fate.NEW]
    assert rows(store) == rows(store, model.Change) == rows(store, model.Version) == 0


def test_nobody_is_kept_who_has_not_agreed_and_one_answer_may_stand_for_all(store):
    strangers = (Contact("Ada Demo", "ada@example.org"), Contact("Bo Demo"))
    assert fates(take_in(store, strangers, Choice())) == [Fate.TO_BE_ASKED] * 2
    assert rows(store) == 0
    take_in(store, strangers, Choice(SIGNED))
    with store.looking() as session:
        assert agreed(session, client_row(session, "A. D.").id, Scope.RECORD)
        assert agreed(session, client_row(session, "B. D.").id, Scope.RECORD)


def test_taking_in_twice_is_taking_in_once_and_one_undo_takes_it_back(store):
    people = (MARIGOLD, Contact("Bo Demo", "", "B", "", SIGNED))
    take_in(store, people, Choice())
    before = rows(store, model.Version)
    assert fates(take_in(store, people, Choice())) == [Fate.KNOWN, Fate.KNOWN]
    assert rows(store, model.Version) == before
    store.undo()
    assert contacts_kept(store) == ()
    take_in(store, people, Choice())
    assert [each.code for each in contacts_kept(store)] == ["B", "M. D."]


@pytest.mark.parametrize(
    ("other", "by"),
    [
        (Contact("MARIGOLD  dúnmore"), "name"),
        (Contact("Someone", "Marigold@Example.org"), "e-mail"),
        (Contact("Someone", "030 5550 1234"), "phone"),
        (Contact("Someone", "0049 (0)30 5550-1234"), "phone"),
    ],
)
def test_duplicates_are_shown_by_what_they_share_and_are_not_kept(store, other, by):
    take_in(store, (MARIGOLD,), Choice())
    (judged,) = take_in(store, (replace(other, agreed=SIGNED),), Choice())
    assert judged.fate is Fate.DUPLICATE
    assert f"the {by} of M. D." in judged.why
    assert rows(store) == 1
    (judged,) = take_in(store, (replace(other, agreed=SIGNED),), Choice(also=frozenset({1})))
    assert judged.fate is Fate.NEW
    assert rows(store) == 2


def test_a_client_known_by_a_code_alone_is_found_by_it_as_a_name(store):
    take_in(store, (Contact("", "", "Marigold", "", SIGNED),), Choice())
    (judged,) = preview(store, (Contact("marigold", agreed=SIGNED),), Choice())
    assert judged.fate is Fate.DUPLICATE


def test_duplicates_within_the_file_are_shown_too(store):
    twice = (Contact("Ada Demo", agreed=SIGNED), Contact("ada demo", agreed=SIGNED))
    judged = take_in(store, twice, Choice())
    assert fates(judged) == [Fate.NEW, Fate.DUPLICATE]
    assert "number 1" in judged[1].why


def test_a_known_client_is_filled_in_and_never_overwritten(store):
    take_in(store, (replace(MARIGOLD, contact=""),), Choice())
    (judged,) = take_in(store, (Contact("Another Name", "new@example.org", "m. d."),), Choice())
    assert judged.fate is Fate.FILLED_IN
    kept = client(store, "M. D.")
    assert (kept.name, kept.contact) == ("Marigold Dunmore", "new@example.org")


def test_who_took_the_consent_back_is_neither_handed_out_nor_filled_in(store):
    take_in(store, (replace(MARIGOLD, contact=""),), Choice())
    withdraw_consent(store, "M. D.", Scope.RECORD, DAY, "spoken")
    assert contacts_kept(store) == ()
    (judged,) = take_in(store, (Contact("", "new@example.org", "M. D."),), Choice())
    assert judged.fate is Fate.TO_BE_ASKED
    assert client(store, "M. D.").contact == ""


def test_a_salons_clients_come_back_from_both_formats(store):
    take_in(store, (MARIGOLD, Contact("Bo Demo", "", "B", "", Agreed(date(2026, 1, 2), "by a tap"))), Choice())
    kept = contacts_kept(store)
    assert [each.code for each in kept] == ["B", "M. D."]
    assert contacts_of_vcard(vcards_of(kept)) == kept
    assert contacts_of_csv(contacts_to_csv(kept), {}) == kept
    assert fates(preview(store, kept, Choice())) == [Fate.KNOWN, Fate.KNOWN]


def test_codes_are_made_of_initials_and_never_taken_twice(store):
    assert initials("Marigold von Dunmore") == "M. D."
    people = tuple(Contact(name, agreed=SIGNED) for name in ("Ada Demo", "Anna Dorn", "Ali Duran"))
    judged = take_in(store, people, Choice())
    assert [each.contact.code for each in judged] == ["A. D.", "A. D. 2", "A. D. 3"]


@pytest.mark.parametrize("ascii_before", range(4))
def test_no_line_is_longer_than_75_octets_wherever_a_long_sign_falls(ascii_before):
    contact = Contact("a" * ascii_before + "\N{WOMAN}" * 40)
    assert all(len(line.encode()) <= 75 for line in vcards_of((contact,)).split("\r\n"))  # RFC 6350, 3.2
    assert contacts_of_vcard(vcards_of((contact,))) == (contact,)
