"""Sentences that remember what they were made from, so that a face can say them in another language.

Rule 1: to everything that computes, compares, keeps or sends it, such a sentence is the English text that it is.
Rule 2: a template stands in the code as a literal, so that the catalogue of texts can list it.
"""

from collections.abc import Callable, Iterable, Mapping


class Said(str):
    """A text with its template and what fills it; other sentences may be among that."""

    __slots__ = ("fields", "template")
    template: str
    fields: Mapping[str, object]

    def told(self, translate: Callable[[str], str]) -> str:
        """The same with the template, and those of the sentences within it, as `translate` gives them.

        >>> german = {"fits": "passt", "{what} on {where}": "{what} am {where}"}
        >>> say("{what} on {where}", what=say("fits"), where="BR6-C").told(lambda text: german.get(text, text))
        'passt am BR6-C'
        """
        template = translate(self.template)
        if not self.fields:
            return template
        return template.format(
            **{name: one.told(translate) if isinstance(one, Said) else one for name, one in self.fields.items()}
        )


def say(template: str, /, **fields: object) -> Said:
    """A sentence: the template with its fields filled in; without fields it is a text by itself.

    >>> say("{low} to {high}", low="71.4 mm", high="71.5 mm")
    '71.4 mm to 71.5 mm'
    """
    made = Said(template.format(**fields) if fields else template)
    made.template, made.fields = template, fields
    return made


def joined(separator: str, pieces: Iterable[str]) -> str:
    """The pieces with a sign between them that is the same in every language; sentences among them stay sentences.

    >>> joined("; ", ["seal ring bore", say("not known")])
    'seal ring bore; not known'
    """
    listed = list(pieces)
    if not any(isinstance(one, Said) for one in listed):
        return separator.join(listed)
    named = {f"part{at}": one for at, one in enumerate(listed)}
    return say(separator.join(f"{{{name}}}" for name in named), **named)
