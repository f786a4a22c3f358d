"""The encoder against published libraries, an open standard and its own fit; the numbers are by chance."""

import numpy
import onnx.helper
import pytest
from onnx.reference import ReferenceEvaluator
from tokenizers import BertWordPieceTokenizer
from wordfreq import top_n_list

from intake.encoder import FAR, HEADS, WINDOW, encoder_of
from intake.pieces import OPENING, UNKNOWN, pieces_of
from tests.intake.models import SHIPPED, SIZE, small_encoder

FLOAT = onnx.TensorProto.FLOAT


def test_words_are_cut_as_a_published_library_cuts_them():
    """The commonest 20,000 words of English (wordfreq), by the WordPiece of tokenizers 0.2x with the same pieces."""
    rows = {
        "[CLS]" if row == OPENING else "[UNK]" if row == UNKNOWN else piece: row
        for piece, row in SHIPPED.pieces.items()
    }
    published = BertWordPieceTokenizer({"[SEP]": len(rows), **rows})
    words = [word for word in top_n_list("en", 20_000) if word.isalnum()]
    assert len(words) > 19_000
    for word in words:
        expected = published.encode(word, add_special_tokens=False).ids
        if len(expected) <= 6:
            assert pieces_of(word, SHIPPED.pieces) == expected, word


@pytest.mark.parametrize("word", ["", "x" * 41, "qzxqzxqzxqzxqzxqzx", "\u200b", "漢字"])
def test_what_is_no_word_is_one_unknown_piece(word):
    """A row for each word, whatever it is."""
    assert pieces_of(word, SHIPPED.pieces) == [UNKNOWN]


def _standard(operator, *inputs, **attributes):
    """What the reference implementation of ONNX makes of an operator."""
    given = {f"x{at}": numpy.asarray(array, numpy.float32) for at, array in enumerate(inputs)}
    node = onnx.helper.make_node(operator, list(given), ["y"], **attributes)
    kinds = [onnx.helper.make_tensor_value_info(name, FLOAT, array.shape) for name, array in given.items()]
    graph = onnx.helper.make_graph([node], operator, kinds, [onnx.helper.make_tensor_value_info("y", FLOAT, None)])
    (found,) = ReferenceEvaluator(onnx.helper.make_model(graph)).run(None, given)
    return found


def _norm(seen, norm):
    return _standard("LayerNormalization", seen, *norm, axis=-1, epsilon=1e-12)


def _layer(layer, seen, bias):
    """A layer of BERT in operators of ONNX."""
    parts = numpy.split(seen @ layer.inputs + layer.input_offsets, 3, axis=-1)
    queries, keys, values = (part.reshape(len(seen), HEADS, -1).swapaxes(0, 1) for part in parts)
    odds = queries @ keys.swapaxes(1, 2) * (HEADS / SIZE) ** 0.5 + bias
    heads = (_standard("Softmax", odds, axis=-1) @ values).swapaxes(0, 1).reshape(seen.shape)
    seen = _norm(seen + heads @ layer.outputs + layer.output_offsets, layer.norm)
    within = _standard("Gelu", seen @ layer.wider + layer.wider_offsets, approximate="tanh")
    return _norm(seen + within @ layer.narrower + layer.narrower_offsets, layer.last_norm)


def test_the_encoder_is_made_of_the_operators_of_an_open_standard():
    """Three sentences by chance, against LayerNormalization, Softmax and Gelu of ONNX, with every mask written out."""
    ours = small_encoder(numpy.random.default_rng(1))
    sentences = [[3, 4, 5], [6], [7, 8]]
    rows, number = [0, 3, 4, 5, 0, 6, 0, 7, 8], numpy.array([0, 0, 0, 0, 1, 1, 2, 2, 2])
    places = [0, 1, 2, 3, 0, 1, 0, 1, 2]
    ahead = number[None] - number[:, None]
    own = numpy.where(ahead == 0, 0, -1e4)
    seen = _layer(ours.layers[0], _norm(ours.vectors[rows] * 0.02 + ours.places[places], ours.first_norm), own)
    for layer, near in zip(ours.layers[1:], ours.near, strict=True):
        seen = _layer(layer, seen, near[:, ahead + FAR])
    is_piece = [1, 2, 3, 5, 7, 8]
    assert ours.seen(sentences) == pytest.approx(seen[is_piece], abs=1e-4)


def test_a_sentence_sees_those_near_it():
    """In one layer, the first of many is seen up to the last that is near."""
    ours = small_encoder(numpy.random.default_rng(2), layers=2)
    one, other = (ours.seen([[first, 9], *[[5, 6]] * (FAR + 3)]) for first in (3, 4))
    differs = [row // 2 for row in range(len(one)) if abs(one[row] - other[row]).max() > 1e-6]
    assert sorted(set(differs)) == list(range(FAR + 1))


def test_a_long_message_is_looked_at_in_windows_of_whole_sentences():
    """Each sentence has its rows, however many there are; a window sees nothing of the next."""
    ours = small_encoder(numpy.random.default_rng(3))
    sentence = [5] * (WINDOW // 2 - 1)  # with its opening, two of them fill a window
    seen = ours.seen([sentence] * 5)
    assert len(seen) == 5 * len(sentence)
    assert seen[: 2 * len(sentence)] == pytest.approx(ours.seen([sentence] * 2))


def test_a_span_is_seen_by_its_greatest_numbers_and_its_means():
    """Row by row, as numpy has them; what the wordings found is added."""
    generator = numpy.random.default_rng(4)
    ours = small_encoder(labels=2)._replace(
        weights=generator.normal(size=(2 * SIZE, 2)), trust=numpy.array([[0, 2.0], [0, 0]]), offsets=numpy.arange(2.0)
    )
    seen, spans = generator.normal(size=(7, SIZE)), [(0, 3), (3, 7), (0, 7)]
    told = numpy.array([[1, 0], [0, 0], [1, 0]])
    for row, (start, end) in enumerate(spans):
        part = seen[start:end]
        expected = numpy.concatenate([part.max(axis=0), part.mean(axis=0)]) @ ours.weights + ours.offsets
        expected[1] += 2 * told[row, 0]
        assert ours.odds(seen, spans, told)[row] == pytest.approx(expected)


PIECES = ["[CLS]", "[UNK]", "fans", "go", "no", "round"]
ROWS = {piece: row for row, piece in enumerate(PIECES)}


def _fitted():
    """A network that was fitted to three messages, and the messages."""
    pytest.importorskip("torch", reason="only who trains needs torch")
    from tests.fit import encoder, transformer

    begin = encoder.Published(PIECES, transformer.by_chance(len(PIECES), size=SIZE, within=8))
    messages = [
        [
            encoder.Sample([ROWS[word] for word in text.split()], told, says, [], opens=True)
            for text, told, says in message
        ]
        for message in (
            [("no fans go round", [1], [1]), ("go", [], [])],
            [("fans go round", [], [0])],
            [("go no", [], [])],
        )
    ]
    return encoder.fitted(messages, begin, range(len(PIECES)), 2), messages


def test_the_same_examples_give_the_same_numbers():
    """Two fits, to the last bit."""
    one, two = (_fitted()[0].arrays() for _ in range(2))
    assert all((one[name] == two[name]).all() for name in one)


def test_what_is_stored_answers_as_what_was_fitted():
    """The odds of a message are those of the fit, but for the rounding to sixteen and eight bits."""
    fitted, messages = _fitted()
    from tests.fit import encoder

    ours = encoder_of(encoder.stored(fitted.arrays()))
    rows = [sample.pieces for sample in messages[0]]
    told = numpy.array([[0, 1], [0, 0]], numpy.float32)
    found = ours.odds(ours.seen(rows), [(0, 4), (4, 5)], told)
    assert found == pytest.approx(fitted.odds_of(messages[0]), abs=0.05)
