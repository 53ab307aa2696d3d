"""Which test shows which clause of the texts on electronic signatures and of the law on personal data.

Sources: Electronic Signatures in Global and National Commerce Act, 15 USC 7001(c) and (d); Uniform Electronic
Transactions Act (1999), section 12; Regulation (EU) No 910/2014 (eIDAS), article 26; ETSI EN 319 142-1 (PAdES
baseline); Regulation (EU) 2016/679 (GDPR), articles 15, 17(3)(b), 20. Nothing here claims a qualified signature: the
seal is the business's own, and the evidence of who signed is kept beside it.
"""

import ast
from pathlib import Path

import pytest

TESTS = Path(__file__).parent.parent

# clause → file and name of the test that shows it
CLAUSES = {
    "ESIGN (c)(1)(A) affirmative consent": ("standards/test_esign.py", "test_nobody_signs_without_agreeing_first"),
    "ESIGN (c)(1)(B) the notice before it": (
        "standards/test_esign.py",
        "test_each_clause_is_shown_before_signing",
    ),
    "ESIGN (c)(1)(C)(i) hardware and software": (
        "standards/test_esign.py",
        "test_each_clause_is_shown_before_signing",
    ),
    "ESIGN (c)(1)(C)(ii) consent given electronically, access shown": (
        "standards/test_esign.py",
        "test_nobody_signs_without_agreeing_first",
    ),
    "ESIGN (d)(1)(A) the record accurately reflects": (
        "standards/test_esign.py",
        "test_the_record_is_kept_as_it_was_signed_and_can_be_had_again",
    ),
    "ESIGN (d)(1)(B) the record remains accessible": (
        "clients/paperwork/test_letters.py",
        "test_the_signer_gets_the_sealed_paper",
    ),
    "UETA 12(a)(1) reflects it in its final form": (
        "standards/test_esign.py",
        "test_the_record_is_kept_as_it_was_signed_and_can_be_had_again",
    ),
    "UETA 12(a)(2) remains accessible for later reference": (
        "backoffice/documents/test_views.py",
        "test_the_browser_shows_it_and_no_cache_keeps_it",
    ),
    "eIDAS 26(a) uniquely linked to the signatory": (
        "backoffice/erasing/test_erasing.py",
        "test_a_signature_changed_by_hand_is_named",
    ),
    "eIDAS 26(b) capable of identifying the signatory": (
        "clients/paperwork/test_signing.py",
        "test_signing_keeps_text_name_role_strokes_moment_device_and_address",
    ),
    "eIDAS 26(c) under the signatory's sole control": (
        "backoffice/links/test_links.py",
        "test_only_the_hash_is_stored",
    ),
    "eIDAS 26(d) any later change is detectable": (
        "backoffice/documents/test_seal.py",
        "test_every_changed_byte_is_noticed",
    ),
    "PAdES B-B": ("standards/test_pades.py", "test_it_is_of_the_baseline_b_form"),
    "PAdES B-B, judged by pyHanko": ("standards/test_pades.py", "test_pyhanko_s_validator_agrees"),
    "PAdES B-B, judged by poppler": ("standards/test_pades.py", "test_poppler_agrees"),
    "PAdES B-T": ("standards/test_pades.py", "test_with_a_time_stamp_service_it_is_of_the_baseline_t_form"),
    "GDPR 15(1), (3) access and a copy": (
        "backoffice/erasing/test_erasing.py",
        "test_what_is_handed_over_holds_the_records_and_the_papers",
    ),
    "GDPR 15(1)(d) how long it is kept": (
        "backoffice/erasing/test_erasing.py",
        "test_what_no_rule_keeps_goes_and_the_rest_is_named_with_its_reason",
    ),
    "GDPR 17(1) erasure": (
        "backoffice/erasing/test_erasing.py",
        "test_when_the_years_are_over_all_words_go_and_the_accounts_stay_whole",
    ),
    "GDPR 17(3)(b) kept where a law asks for it": (
        "backoffice/erasing/test_erasing.py",
        "test_each_trace_that_is_left_is_there_by_a_rule",
    ),
    "GDPR 20 structured and machine-readable": (
        "backoffice/erasing/test_erasing.py",
        "test_what_is_handed_over_holds_the_records_and_the_papers",
    ),
}


@pytest.mark.parametrize("clause", CLAUSES)
def test_the_test_that_shows_the_clause_exists_and_asserts(clause):
    file, name = CLAUSES[clause]
    tree = ast.parse((TESTS / file).read_text(encoding="utf-8"))
    found = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name == name]
    assert len(found) == 1, f"{name} is not in {file}"
    assert any(isinstance(node, ast.Assert | ast.With) for node in ast.walk(found[0]))
