"""Which published ingredient a cook means: by its name, its other names, and the words that decide the kind.

Nothing is guessed. A name is known only if every word of it is part of a published name, or says no more than how the
food was prepared. What isn't known stays unknown, and a rule says so.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations

from service.core.measures.letters import without_accents
from service.core.rules.case import Role
from service.core.rules.facts import Facts, Ingredient

Words = frozenset[str]


def _words(text: str) -> Words:
    return frozenset(text.split())


# Words that never change what a food is. "Crushed pineapple" is looked up whole first.
PREPARATION: Words = _words(
    """blanched boiled boiling chopped cleaned cold coarsely cooked cooled cored crushed cubed cut deseeded
    diced distilled drained filtered fine finely firm firmly flesh freshly fresh frozen grated halved
    heated homegrown hot hulled husked inch julienned large lightly lukewarm medium melted minced
    organic packed pared peeled pitted plain pressed prepared pureed puree quartered raw rinsed ripe
    roasted roughly seeded seedless settled shelled shredded sieved sifted sliced small softened
    squeezed stemmed strained tap tart thawed thick thickly thin thinly toasted trimmed undrained
    unpeeled unsalted unsweetened unwaxed very warm washed well whole mashed skinned deveined kernel
    piece chunk strip slice cube half wedge spear floret flowerets flat leaf leaves extra virgin pure
    good quality about approximately canned bottled sweetened mild scrubbed topped tailed ground
    powdered granulated dried overripe underripe unflavored boneless skinless shucked rubbed crumbled picked of"""
)
# Among those, words that a food must carry in its own name unless it is a seasoning: dried tomato isn't tomato.
KIND_DECIDING: Words = _words("dried powdered smoked pickled candied fermented")
# Single words of a longer description that may name a kind: "dried leaves", "long red".
KIND_WORDS: Words = _words(
    """dried ground canned bottled white yellow wild smoked unripe stick prepared canning kosher"""
)
# What may be said of a food that it stays the food of the tables with; whatever else is said is asked about.
CHANGING_NOTHING: Words = (
    PREPARATION
    | KIND_WORDS
    | _words(
        """a about an and any as at each for from if in into its least like my needed of off or our own per such the
        their then this to bite bone core crosswise day end even evenly farm garden joint kind length lengthwise
        local market neighbor neighbour overnight picked pit seed shop size sized skin slipped soak soaked stem
        store today top tree type uniform variety vein year young acidity bought concentrate cover food grade
        grain higher labeled labelled percent room strength temperature"""
    )
)
ALTERNATIVES: Words = _words("or and not no without for from if only to until")

# Trade words that the tables don't print: common practice, no source.
TRADE_NAMES = {
    "sea salt": "salt, kind not stated",
    "fine salt": "salt, table",
    "sweet onion": "onion",
    "spanish onion": "onion",
    "cuke": "cucumber",
    "pickling cucumber": "cucumber",
    "zucchini squash": "zucchini",
    "dill weed": "dill, form not stated",
    "garbanzos": "chickpea",
    "ripe peach": "peach, colour not stated",
    "cooking oil": "oil, vegetable",
    "corn kernel": "corn",
    "cream-style corn": "corn",
    "hot chili": "hot pepper",
    "chile": "hot pepper",
    "chili": "hot pepper",
    "green onion": "scallion",
    "caster sugar": "sugar, granulated",
    "superfine sugar": "sugar, granulated",
    "mandarin orange": "tangerine",
    "chuck roast": "beef",
    "stewing beef": "beef",
    "beef stew meat": "beef",
    "lime zest": "lemon zest",
    "apple cider vinegar": "vinegar, cider",
    "roma tomato": "tomato, paste type",
    "tomatoes in juice": "tomato, canned, with juice",
    "beef broth": "broth",
    "chicken broth": "broth",
    "turkey broth": "broth",
    "vegetable broth": "broth",
    "beef stock": "broth",
    "chicken stock": "broth",
    "turkey stock": "broth",
    "meat stock": "broth",
    "cabbage": "cabbage, green",
    "fish broth": "broth",
    "fish stock": "broth",
    "clam meat": "clam",
    "king crab meat": "crab meat",
    "dungeness crab meat": "crab meat",
    "italian green bean": "green bean",
    "dried black-eyed pea": "dry bean",
    "dry black-eyed pea": "dry bean",
    "sugar pumpkin": "pumpkin",
    "pie pumpkin": "pumpkin",
    "new potato": "potato",
    "ear corn": "corn",
    "ear sweet corn": "corn",
    "corn in husk": "corn",
    "sweet corn in husk": "corn",
    "pea in pod": "green pea",
    "pea in the pod": "green pea",
    "green pea in pod": "green pea",
    "okra pod": "okra",
    "salmon fillet": "salmon",
    "ascorbic acid powder": "ascorbic acid",
    "regular powdered fruit pectin": "powdered pectin",
    "liquid fruit pectin": "liquid pectin",
    "dry white wine": "white wine",
}
# The kind that a word in the form decides, where name and word together are no published name: id, words, id meant.
KINDS: tuple[tuple[str, Words, str], ...] = (
    ("lemon-juice-kind-not-stated", frozenset({"bottled", "reconstituted"}), "lemon-juice-bottled"),
    ("lemon-juice-kind-not-stated", frozenset({"fresh", "freshly", "squeezed"}), "lemon-juice-fresh"),
    ("lime-juice-kind-not-stated", frozenset({"bottled", "reconstituted"}), "lime-juice-bottled"),
    ("lime-juice-kind-not-stated", frozenset({"fresh", "freshly", "squeezed"}), "lime-juice-fresh"),
    ("bean-kind-not-stated", frozenset({"cooked", "soaked", "dried", "dry"}), "bean-dry-kind-not-stated"),
    ("pineapple", frozenset({"canned"}), "pineapple-canned-in-juice"),
    ("pepper-bell-red", frozenset({"dried", "flake", "crushed"}), "red-pepper-flakes"),
    ("pepper-bell-red", frozenset({"ground"}), "pepper-cayenne"),
    ("pepper-hot-chili-red", frozenset({"dried", "flake"}), "red-pepper-flakes"),
    ("pepper-hot-kind-not-stated", frozenset({"dried", "flake"}), "red-pepper-flakes"),
    ("vinegar-kind-not-stated", frozenset({"homemade"}), "vinegar-homemade"),
    ("vinegar-cider", frozenset({"homemade"}), "vinegar-homemade"),
    ("pectin-kind-not-stated", frozenset({"powdered", "powder", "dry"}), "pectin-powdered-regular"),
    ("pectin-kind-not-stated", frozenset({"liquid"}), "pectin-liquid"),
)
KINDS_OF = {id: [(words, meant) for each, words, meant in KINDS if each == id] for id, _, _ in KINDS}
# The kind that a spoonful decides: nobody puts half a teaspoon of the vegetable into a pot.
BY_THE_SPOON = {
    "pepper-kind-not-stated": "pepper-black",
    "fennel-bulb": "fennel-seed",
    "pepper-bell-red": "red-pepper-flakes",
    "dill-kind-not-stated": "dill-weed-dried",
}
SAID_WHOLE = frozenset({"chopped", "diced", "fresh", "head", "sliced", "bulb"})  # of the vegetable all the same

# Vegetables that are leaves.
LEAVES = frozenset({"leafy-green", "cabbage", "brassica"})

SEASONINGS = frozenset(
    {Role.SPICE, Role.HERB, Role.LEGUME, Role.SALT, Role.SWEETENER, Role.PECTIN, Role.ADDITIVE, Role.ACID}
)

ROLE_OF_KIND = {
    "fruit": Role.FRUIT,
    "vegetable": Role.VEGETABLE,
    "sugar": Role.SWEETENER,
    "salt": Role.SALT,
    "acid": Role.ACID,
    "pectin": Role.PECTIN,
    "thickener": Role.THICKENER,
    "spice": Role.SPICE,
    "fat": Role.FAT,
    "dairy": Role.DAIRY,
    "meat": Role.MEAT,
    "liquid": Role.LIQUID,
}
# Where the published class is too wide to tell what a food is for.
ROLE_OF_GROUP = {
    group: role
    for role, groups in (
        (Role.TOMATO, "tomato tomatillo tomato-paste dried-tomato"),
        (Role.LEGUME, "dry-bean canned-bean mashed-bean"),
        (Role.FISH, "fish tuna smoked-fish crab blue-crab shellfish lean-fish other-seafood"),
        (Role.EGG, "egg"),
        (Role.HERB, "fresh-herb edible-flower"),
        (Role.NUT, "nut"),
        (Role.GRAIN, "pasta grain hominy"),
        (Role.SPICE, "mustard colouring extract seasoning dry-spice"),
        (Role.LIQUID, "fruit-juice tomato-juice vegetable-juice other-juice sauce coconut-milk soup"),
        (Role.THICKENER, "starch cook-type-starch instant-starch flour gelatin gum"),
        (Role.SALT, "salt-substitute"),
    )
    for group in groups.split()
}
# Foods without a published name whose kind still decides a bar. The ingredient stays unknown.
ROLE_BY_WORD: tuple[tuple[Role, Words], ...] = (
    (Role.GRAIN, _words(
    """pasta noodle macaroni spaghetti rice barley oat oatmeal quinoa couscous bread cracker"""
)),
    (Role.DAIRY, _words("cheese yogurt yoghurt milk cream buttermilk kefir custard")),
    (Role.EGG, _words("egg yolk mayonnaise")),
    (Role.FAT, _words("oil lard tallow suet shortening margarine butter ghee")),
    (Role.THICKENER, _words("starch flour roux tapioca arrowroot thickener gum")),
    (Role.MEAT, _words("beef pork lamb veal venison chicken turkey rabbit bacon ham sausage meat goose duck")),
    (Role.FISH, _words("fish salmon tuna shrimp lobster crab clam oyster mussel squid herring mackerel")),
)  # fmt: skip

_TOKEN = re.compile(r"[a-z]+|[0-9]+(?:/[0-9]+)?")
_CHUNK_ENDS = re.compile(r"[,;()]")
_LOOK_BACK = 7  # preparation words beside a name; a name with more is nobody's


@lru_cache(maxsize=8192)
def words_of(text: str) -> tuple[str, ...]:
    """The words of a text in the singular, without accents, numbers and marks."""
    plain = without_accents(text.lower().replace("'", "").replace("’", ""))
    return tuple([_singular(word) for word in _TOKEN.findall(plain) if not word[0].isdigit()])


def _singular(word: str) -> str:
    if word in ("leaves", "leaf"):
        return "leaf"
    if word == "fleshed":
        return "flesh"
    if len(word) < 4 or word.endswith(("ss", "us", "is")) or not word.endswith("s"):
        return word
    if word.endswith("ies"):
        return word[:-3] + "y"
    if word.endswith(("oes", "ches", "shes", "xes")):
        return word[:-2]
    return word[:-1]


def chunks_of(form: str) -> tuple[tuple[str, ...], ...]:
    """The form in its parts, each as words."""
    return tuple([words for chunk in _CHUNK_ENDS.split(form) if (words := words_of(chunk))])


def _kinds_said(words: Words) -> Iterator[Words]:
    """The ways in which one part of a description may name a kind, the whole of it first."""
    yield words
    rest = words - PREPARATION
    if rest and rest != words and "juice" not in rest:  # "juice pressed" tells what is done with the fruit
        yield rest
    for word in sorted(words & KIND_WORDS):
        yield frozenset({word})


def _last(words: Sequence[str]) -> Sequence[str]:
    """The last word of a name that says what it is, not how it was prepared."""
    return [word for word in words if word not in PREPARATION][-1:] or words[-1:]


def role_of(ingredient: Ingredient) -> Role:
    return ROLE_OF_GROUP.get(ingredient.group) or ROLE_OF_KIND.get(ingredient.kind, Role.ADDITIVE)


def is_no_leaf(ingredient: Ingredient) -> bool:
    """Whether its leaves are another food: those of beets are greens, those of figs and rhubarb are no fruit."""
    return role_of(ingredient) not in (Role.HERB, Role.SPICE) and ingredient.group not in LEAVES


def role_of_unknown(name: str) -> Role:
    """What kind of food an unknown name speaks of, where one word is enough to bar it."""
    words = frozenset(words_of(name))
    return next((role for role, named in ROLE_BY_WORD if words & named), Role.UNKNOWN)


class Recogniser:
    """Every published name, ready to be looked up."""

    def __init__(self, ingredients: Iterable[Ingredient]) -> None:
        self.by_id = {ingredient.id: ingredient for ingredient in ingredients}
        self.by_words: dict[Words, Ingredient] = {}
        self.last_words: dict[Words, set[str]] = {}
        for ingredient in self.by_id.values():
            for name in (ingredient.name, *ingredient.aliases):
                words = words_of(name)
                self.by_words.setdefault(frozenset(words), ingredient)
                self.last_words.setdefault(frozenset(words), set()).update(words if "," in name else _last(words))
        for ingredient in self.by_id.values():  # a variety beside its kind: "Granny Smith apple", "butternut squash"
            kind = words_of(ingredient.name)[:1]
            for variety in ingredient.aliases:
                self.by_words.setdefault(frozenset((*words_of(variety), *kind)), ingredient)
        for name, meant in TRADE_NAMES.items():
            known = self.by_words.get(frozenset(words_of(meant)))
            if known is not None:
                self.by_words.setdefault(frozenset(words_of(name)), known)
        self.recognise = lru_cache(maxsize=8192)(self._recognise)

    def _recognise(self, name: str, form: str, spoonful: bool) -> Ingredient | None:
        """The ingredient meant by this name in this form; `spoonful` where at most a tablespoon goes in."""
        head, _, tail = name.partition(",")
        for whole, rest in ((name, ""), (head, tail)):
            words = words_of(whole)
            found = self._named(frozenset(words))
            if found is not None and ("," in whole or "of" in words or self._ends_alike(words, found[1])):
                return self._kind(*found, f"{rest},{form}", spoonful)
        return None

    def _ends_alike(self, said: tuple[str, ...], name: Words) -> bool:
        """Whether what is said ends as the published name does: sugar beets are no beet sugar."""
        return name not in self.last_words or not self.last_words[name].isdisjoint(
            _last([word for word in said if word in name])
        )

    def _named(self, words: Words) -> tuple[Ingredient, Words, Words] | None:
        """The ingredient with the most words of this name, where the others only say how it was prepared."""
        if words in self.by_words:
            return self.by_words[words], words, frozenset()
        loose = sorted(words & PREPARATION)
        if len(loose) > _LOOK_BACK:
            return None
        for size in range(1, len(loose) + 1):
            for dropped in combinations(loose, size):
                found = self.by_words.get(words.difference(dropped))
                if found is not None and not ("leaf" in dropped and is_no_leaf(found)):
                    return found, words.difference(dropped), frozenset(dropped)
        return None

    def _kind(self, found: Ingredient, name: Words, dropped: Words, form: str, spoonful: bool) -> Ingredient | None:
        said = dropped
        for chunk in chunks_of(form):
            words = frozenset(chunk)
            if words & ALTERNATIVES:
                continue
            said |= words
            for more in _kinds_said(words):
                other = self.by_words.get(name | more)
                if other is not None and name & self.last_words.get(name | more, name):
                    found, name = other, name | more
                    break
        for deciding, meant in KINDS_OF.get(found.id, ()):
            if said & deciding and meant in self.by_id:
                found = self.by_id[meant]
                break
        if spoonful and found.id in BY_THE_SPOON and not (name | said) & SAID_WHOLE:
            found = self.by_id.get(BY_THE_SPOON[found.id], found)
        kind_said = said & KIND_DECIDING
        if kind_said and not kind_said & frozenset(words_of(" ".join((found.name, *found.aliases)))):
            return found if role_of(found) in SEASONINGS else None
        return found


@lru_cache(maxsize=4)
def recogniser(facts: Facts) -> Recogniser:
    return Recogniser(facts.ingredients)
