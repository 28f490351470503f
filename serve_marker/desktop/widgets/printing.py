"""Printing: the system's own question for printer and paper, then pictures, one to a page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPageLayout, QPageSize, QPainter
from PySide6.QtWidgets import QDialog, QWidget

from serve_marker.errors import UserError
from serve_marker.study.sentences import count_words

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

PAPERS = {"A4": QPageSize.PageSizeId.A4, "Letter": QPageSize.PageSizeId.Letter}


def ask_to_print(
    parent: QWidget,
    title: str,
    images: Sequence[QImage],
    pdf: Path,
    tell: Callable[[str], object],
    paper: str = "A4",
) -> None:
    """Ask for a printer and print pictures, each as large as its page; wide ones lie on their side.

    Parameters
    ----------
    pdf : the file proposed where there is no printer.
    tell : takes the sentence about how it ended.

    Raises
    ------
    UserError
        Where this system has nothing to print with.
    """
    try:
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter, QPrinterInfo
    except ImportError as error:
        raise UserError("This system cannot print from here. Make the PDF and print that.") from error
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setDocName(title)
    printer.setPageSize(QPageSize(PAPERS.get(paper, QPageSize.PageSizeId.A4)))
    is_wide = bool(images) and images[0].width() > images[0].height()
    printer.setPageOrientation(QPageLayout.Orientation.Landscape if is_wide else QPageLayout.Orientation.Portrait)
    if not QPrinterInfo.availablePrinterNames():
        printer.setOutputFileName(str(pdf))
    dialog = QPrintDialog(printer, parent)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setWindowTitle(f"Print: {title}")
    dialog.accepted.connect(lambda: tell(_print(printer, images)))
    QDialog.open(dialog)  # a print dialog has an older "open" of its own


def _print(printer: QPrinter, images: Sequence[QImage]) -> str:
    painter = QPainter(printer)
    if not painter.isActive():
        return "Nothing was printed. Choose another printer or another file."
    room = printer.pageLayout().paintRectPixels(printer.resolution())
    for number, image in enumerate(images):
        if number:
            printer.newPage()
        size = image.size().scaled(room.size(), Qt.AspectRatioMode.KeepAspectRatio)
        box = QRectF(0, 0, size.width(), size.height())
        box.moveCenter(QRectF(0, 0, room.width(), room.height()).center())
        painter.drawImage(box, image)
    painter.end()
    return f"{count_words(len(images), 'page')} sent to print."
