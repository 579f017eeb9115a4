from receiving.reading.guided.matrix import (
    guided_matrix as guided_matrix,
)
from receiving.reading.guided.reader import (
    guided_symbols as guided_symbols,
)
from receiving.reading.guided.regions import (
    candidate_regions as candidate_regions,
)
