"""The reference that the command line and the page show: one Markdown file a topic in kb/help/."""

import re
from pathlib import Path

from kb.core.errors import NotFoundError, nearest

FOLDER = Path(__file__).parent.parent / "help"


def help_topics() -> dict[str, str]:
    """The title of every topic by its name, in alphabetical order of the names."""
    files = sorted(FOLDER.glob("*.md"))
    texts = {path.stem: path.read_text(encoding="utf-8") for path in files}
    return {name: text.splitlines()[0].removeprefix("# ") for name, text in texts.items()}


def help_text(topic: str) -> str:
    """The Markdown of a topic, its title in the first line.

    It is named in full, or by the only part that begins so: `study` for study.yaml.

    Raises:
        NotFoundError: There is no such topic; the hint names the nearest, or those that mention
            the word.
    """
    wanted = topic.strip().casefold().removesuffix(".md").replace(" ", "-")
    names = tuple(help_topics())
    begun = [name for name in names if wanted and re.search(rf"\b{re.escape(wanted)}", name)]
    if wanted in names or len(begun) == 1:
        name = wanted if wanted in names else begun[0]
        return (FOLDER / f"{name}.md").read_text(encoding="utf-8")
    mentioned = [name for name in names if f"`{wanted}`" in help_text(name)]
    hint = f"it is explained in: {', '.join(mentioned)}" if mentioned else nearest(wanted, names)
    raise NotFoundError(f"no help topic '{topic}'", hint or f"the topics are {', '.join(names)}")
