from receiving.language.choosing import (
    LANGUAGES as LANGUAGES,
    best_language as best_language,
    environment_tags as environment_tags,
)
from receiving.language.scripts import (
    script_catalogue as script_catalogue,
)
from receiving.language.speaking import (
    Language as Language,
    language_name as language_name,
    language_of as language_of,
)
