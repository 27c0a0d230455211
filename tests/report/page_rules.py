"""What every page must keep: nothing from outside, one style sheet and one script that its policy names."""

import base64
import hashlib
import re
from itertools import pairwise

from sheets import Page

LETS_IN = {"link", "img", "iframe", "object", "embed", "base", "form", "image", "use", "foreignobject"}
"""Tags that could bring something in, or send something out."""


def assert_shut(page: Page) -> None:
    """Assert that nothing comes from outside, and that the policy lets in just the style and the script there."""
    for tag, attributes in page.tags:
        assert tag not in LETS_IN
        for name, value in attributes.items():
            assert not name.startswith("on")
            assert name not in {"style", "src", "srcset", "action", "formaction", "xlink:href"}
            assert name != "href" or (value or "").startswith("#")
            assert "url(" not in (value or "")
    assert (len(page.pieces["style"]), len(page.pieces["script"])) == (1, 1)
    assert "@import" not in page.pieces["style"][0]
    assert "url(" not in page.pieces["style"][0]
    policies = [m["content"] or "" for m in page.of("meta") if m.get("http-equiv") == "Content-Security-Policy"]
    assert len(policies) == 1
    rules = dict(rule.strip().split(" ", 1) for rule in policies[0].split(";"))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    for name in ("style", "script"):
        digest = hashlib.sha256(page.pieces[name][0].encode("utf-8")).digest()
        assert rules[f"{name}-src"] == f"'sha256-{base64.b64encode(digest).decode()}'"


def assert_names_are_found(page: Page) -> None:
    """Assert that identities are unique, that all that is named is there, and that headings go down step by step."""
    identities = [a["id"] for _, a in page.tags if "id" in a]
    assert len(identities) == len(set(identities))
    named: list[str] = []
    for _, attributes in page.tags:
        for name in ("for", "aria-labelledby", "aria-describedby"):
            named += (attributes.get(name) or "").split()
        named.append((attributes.get("href") or "#").removeprefix("#"))
        named.append(attributes.get("data-counts") or "")
    assert {name for name in named if name} <= set(identities)
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
