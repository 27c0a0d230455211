import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    # The long tests run only when they are asked for by their mark.
    if "long" in str(config.getoption("markexpr")):
        return
    config.hook.pytest_deselected(items=[item for item in items if item.get_closest_marker("long")])
    items[:] = [item for item in items if not item.get_closest_marker("long")]
