"""``receiving labels``: carton labels as PDF, or as pictures for a label printer."""

import argparse

from receiving import closing
from receiving.cli import DONE
from receiving.closing import LabelExtras, LabelPrint
from receiving.commands.files import FileKind, bytes_of_kind, check_output, one_manifest, write_file
from receiving.commands.terminal import show, speaker
from receiving.errors import BadRequest
from receiving.expected import read_manifests
from receiving.messages import message, plural


def run_labels(options: argparse.Namespace) -> int:
    """Write the labels of the chosen cartons to a PDF file, or to one for a label printer where it ends in .zpl."""
    check_output(options.out, [options.manifest])
    manifests = read_manifests(options.manifest.name, bytes_of_kind(options.manifest, FileKind.MANIFEST)).manifests
    manifest = one_manifest(manifests, options.shipment)
    unknown = [carton for carton in options.carton if manifest.find(carton) is None]
    if unknown:
        known = ", ".join(carton.carton for carton in manifest)
        raise BadRequest(
            message("Carton {carton} is not on the manifest.", carton=repr(unknown[0])),
            next_step=message("It holds {cartons}.", cartons=known),
        )
    chosen = tuple(c for c in manifest if not options.carton or c.carton in options.carton)
    extras = LabelExtras(tuple(options.sender), pounds=options.units == "us", link_host=options.link_host)
    how = LabelPrint(options.stock, options.dpi, tuple(options.offset_mm), extras, speaker())
    for_printer = options.out.suffix.lower() == ".zpl"
    data = closing.labels_raster(chosen, manifest, how) if for_printer else closing.labels_pdf(chosen, manifest, how)
    write_file(options.out, data, inputs=[options.manifest])
    words = plural(
        len(chosen), "{number} label written to {file}", "{number} labels written to {file}", file=str(options.out)
    )
    show(words)
    return DONE
