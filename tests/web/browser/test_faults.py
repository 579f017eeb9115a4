"""A form that is not taken: the summary has the focus and leads to the field, and what was typed is still there.

WCAG 2.2: 3.3.1 error identification, 3.3.3 error suggestion, 4.1.3 status messages; the pattern is the error summary of
the GOV.UK Design System (design-system.service.gov.uk/components/error-summary), which takes the focus on load.
"""

import pytest

from tests.web.browser.test_screen import violations
from tests.web.scenario import ADDRESS

pytestmark = pytest.mark.browser
AT_FOCUS = "document.activeElement.id"


def check_summary(page: object, field: str, words: str) -> None:
    page.locator("[aria-describedby=fault-words]").wait_for()  # a page of the fault's own has its words alone
    page.locator("#fault", has_text=words).wait_for()
    page.wait_for_function(f"{AT_FOCUS} === 'fault'")
    assert page.locator("#fault h2").inner_text() == "There is a problem"
    notice = page.locator("[aria-describedby=fault-words]")
    assert (notice.get_attribute("name"), notice.get_attribute("aria-invalid")) == (field, "true")
    assert violations(page) == []
    page.click("#fault a")
    assert page.evaluate("document.activeElement.name") == field


def test_a_page_that_comes_back_leads_to_its_field(phone, served) -> None:
    phone.goto(served[0] + "/office/settings")
    phone.fill("#sender", "Depot West")
    phone.fill("#right_mm", "a bit")
    phone.click("text=Save the settings")
    check_summary(phone, "right_mm", "'a bit' is not a number of millimetres.")
    assert [phone.input_value(field) for field in ("#sender", "#right_mm")] == ["Depot West", "a bit"]


def test_a_fault_that_has_a_page_of_its_own_leads_back_to_the_form_with_what_was_typed(phone, served) -> None:
    phone.goto(served[0])
    phone.locator("[name=person]").first.evaluate(
        "(field) => { field.maxLength = 500; field.value = 'Ada '.repeat(40); }"
    )
    phone.locator("[name=person]").first.evaluate("(field) => field.form.requestSubmit()")
    check_summary(phone, "person", "The name has 159 characters.")
    assert phone.locator("[name=person]").first.input_value().startswith("Ada Ada")
    phone.reload()
    assert phone.locator("#fault").count() == 0


def test_an_action_that_the_service_refuses_is_told_above_its_form(phone, served) -> None:
    phone.goto(f"{served[0]}{ADDRESS}/cartons/04")
    phone.click("#note-damage > summary")
    phone.check("#note-damage [name=usable][value=false]")
    phone.fill("#remark", "crushed at one edge")
    phone.locator("#pieces").evaluate("(field) => { field.max = ''; field.value = '1e9'; field.type = 'text'; }")
    phone.click("text=Note it")
    check_summary(phone, "qty", "This note cannot be kept")
    assert phone.input_value("#remark") == "crushed at one edge"
    phone.fill("#pieces", "2")
    phone.click("text=Note it")
    phone.locator("#damage .line-item").wait_for()


def test_a_receipt_without_an_answer_for_what_is_missing_leads_to_it(phone, served) -> None:
    phone.goto(f"{served[0]}{ADDRESS}/receipt")
    phone.fill("#name", "Grace")
    phone.fill("#role", "Store manager")
    phone.locator("form.sign").evaluate("(form) => { form.noValidate = true; }")
    phone.click("button[name=how]")
    check_summary(phone, "short", "missing and not declared short.")
    assert phone.input_value("#name") == "Grace"
