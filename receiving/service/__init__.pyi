from receiving.closing import (
    Finding as Finding,
    Flaw as Flaw,
    declaration_words as declaration_words,
    qr_svg as qr_svg,
    qr_terminal as qr_terminal,
    role_words as role_words,
)
from receiving.dispatch import (
    PRESSING as PRESSING,
    CartonOutlook as CartonOutlook,
    CartonStatus as CartonStatus,
    Costs as Costs,
    DispatchRow as DispatchRow,
    MissingCarton as MissingCarton,
    NextStep as NextStep,
    Option as Option,
    OptionKind as OptionKind,
    OrderStatus as OrderStatus,
    Programme as Programme,
    ReadinessDay as ReadinessDay,
    Selection as Selection,
    Share as Share,
    ShipmentRow as ShipmentRow,
    SortKey as SortKey,
    StoreTerms as StoreTerms,
    Swap as Swap,
    Urgency as Urgency,
    select as select,
)
from receiving.expected import (
    ColumnMapping as ColumnMapping,
    DateForm as DateForm,
    DecimalSign as DecimalSign,
    Kit as Kit,
    KitPlace as KitPlace,
    TableSample as TableSample,
)
from receiving.matching import (
    NOT_SEARCHED as NOT_SEARCHED,
    SEARCHED as SEARCHED,
    SearchState as SearchState,
    notes_in_force as notes_in_force,
    search_states as search_states,
)
from receiving.model import (
    Units as Units,
)
from receiving.reading import (
    LabelPattern as LabelPattern,
    Learned as Learned,
    PatternTrial as PatternTrial,
    ScannerFlaw as ScannerFlaw,
    ScannerProfile as ScannerProfile,
    Suggestion as Suggestion,
    learn_scanner as learn_scanner,
)
from receiving.service.accounts import (
    AccountMade as AccountMade,
    NotTheFirst as NotTheFirst,
    add_account as add_account,
    add_person as add_person,
    change_account as change_account,
    change_person as change_person,
    close_account as close_account,
    has_people as has_people,
    may_see as may_see,
    reset_password as reset_password,
    find_note_kinds as find_note_kinds,
    open_account as open_account,
    list_people as list_people,
    sees_swap as sees_swap,
    get_service_secret as get_service_secret,
    set_password as set_password,
    set_subject as set_subject,
)
from receiving.service.auditing import (
    run_once as run_once,
    run_once_if_done as run_once_if_done,
)
from receiving.service.auditing import (
    MOST_EXPORTED as MOST_EXPORTED,
    get_audit_log as get_audit_log,
    list_audit as list_audit,
    make_audit_csv as make_audit_csv,
    write_arrival as write_arrival,
    write_audit as write_audit,
    write_command as write_command,
    write_refusal as write_refusal,
    write_restored as write_restored,
)
from receiving.service.upkeep import (
    back_up as back_up,
    check as check,
    restore as restore,
)
from receiving.service.accounts import (
    Scope as Scope,
    find_api_token as find_api_token,
    list_api_tokens as list_api_tokens,
    make_api_token as make_api_token,
    revoke_api_token as revoke_api_token,
)
from receiving.service.documents import (
    list_column_mappings as list_column_mappings,
    list_manifest_columns as list_manifest_columns,
    remove_mapping as remove_mapping,
    save_mapping as save_mapping,
)
from receiving.service.company_sign_on import (
    CompanySignOn as CompanySignOn,
    SignOnUnreachable as SignOnUnreachable,
    come_from_sign_on as come_from_sign_on,
    leave_to_sign_on as leave_to_sign_on,
    read_company_sign_on as read_company_sign_on,
)
from receiving.service.confirming import (
    GivenReceipt as GivenReceipt,
    ToConfirm as ToConfirm,
    confirm as confirm,
    get_given_receipt as get_given_receipt,
    get_receipt as get_receipt,
    make_receipt_data as make_receipt_data,
    get_receipt_to_confirm as get_receipt_to_confirm,
    show_receipt as show_receipt,
)
from receiving.service.context import (
    Context as Context,
    PhotoReader as PhotoReader,
)
from receiving.service.counting import (
    BaySheets as BaySheets,
    ContentsView as ContentsView,
    PartsTable as PartsTable,
    list_bay_sheets as list_bay_sheets,
    make_bay_sheets_pdf as make_bay_sheets_pdf,
    get_contents as get_contents,
    save_parts_list as save_parts_list,
    get_parts_list as get_parts_list,
    get_parts_table as get_parts_table,
    reset_parts_list as reset_parts_list,
    save_parts_table as save_parts_table,
)
from receiving.service.deciding import (
    Decision as Decision,
    get_decision as get_decision,
)
from receiving.service.decision_words import (
    chance_words as chance_words,
    costs_words as costs_words,
    option_cost_words as option_cost_words,
    list_option_reasons as list_option_reasons,
    option_words as option_words,
    order_words as order_words,
    share_words as share_words,
    terms_words as terms_words,
)
from receiving.service.notes import (
    MissingAnswer as MissingAnswer,
    search_place as search_place,
)
from receiving.service.dispatch_words import (
    URGENCY_WORDS as URGENCY_WORDS,
    advice_words as advice_words,
    day_words as day_words,
    follow_up_words as follow_up_words,
    held_words as held_words,
    missing_words as missing_words,
    outlook_words as outlook_words,
    step_words as step_words,
    weight_words as weight_words,
)
from receiving.service.documents import (
    KIT as KIT,
    PATTERNS as PATTERNS,
    StoredText as StoredText,
    OpenText as OpenText,
    TextDocument as TextDocument,
    TextVersion as TextVersion,
    check_text as check_text,
    get_text as get_text,
    get_value as get_value,
    import_layout as import_layout,
    import_text as import_text,
    name_layout as name_layout,
    get_layout_text as get_layout_text,
    list_text_versions as list_text_versions,
    open_text as open_text,
    reset_text as reset_text,
    save_text as save_text,
)
from receiving.service.upkeep import (
    check_ready as check_ready,
)
from receiving.service.printing import (
    Settings as Settings,
    save_settings as save_settings,
    get_settings as get_settings,
)
from receiving.service.ingest import (
    LabelPicture as LabelPicture,
    PhotoRow as PhotoRow,
    PhotoView as PhotoView,
    PrintRead as PrintRead,
    ScanAnswer as ScanAnswer,
    add_photo as add_photo,
    add_scan as add_scan,
    add_scans as add_scans,
    group_by_label as group_by_label,
    load_interpreters as load_interpreters,
    add_damage as add_damage,
    get_photo as get_photo,
    read_label_picture as read_label_picture,
    read_print as read_print,
    find_shipments_of_code as find_shipments_of_code,
)
from receiving.service.intake import (
    FilePreview as FilePreview,
    FileResult as FileResult,
    ImportPreview as ImportPreview,
    ImportResult as ImportResult,
    NotWithin as NotWithin,
    import_manifest as import_manifest,
    import_stream as import_stream,
    preview_import as preview_import,
    restore_revision as restore_revision,
)
from receiving.service.confirming import make_receipt_pdf as make_receipt_pdf, make_receipt_zip as make_receipt_zip
from receiving.service.accounts import (
    come_by_link as come_by_link,
    list_links as list_links,
    make_link as make_link,
    revoke_link as revoke_link,
)
from receiving.service.list_pages import (
    LIST_PAGE_SIZE as LIST_PAGE_SIZE,
    ListEntry as ListEntry,
    ListPage as ListPage,
    keep_rows as keep_rows,
    get_list_page as get_list_page,
    get_list_version as get_list_version,
)
from receiving.service.manifest_revisions import (
    CartonEdit as CartonEdit,
    KitMove as KitMove,
    KitMoves as KitMoves,
    RevisionPreview as RevisionPreview,
    TypedPlace as TypedPlace,
    VoidedShipment as VoidedShipment,
    Voiding as Voiding,
    apply_kit_moves as apply_kit_moves,
    get_manifest as get_manifest,
    preview_carton as preview_carton,
    preview_kit_moves as preview_kit_moves,
    preview_restore as preview_restore,
    restore_shipment as restore_shipment,
    revise_carton as revise_carton,
    list_revisions as list_revisions,
    void_shipment as void_shipment,
    list_voided_shipments as list_voided_shipments,
    get_voiding as get_voiding,
)
from receiving.service.masterdata import (
    OfficeView as OfficeView,
    StoreLayout as StoreLayout,
    StoreLayouts as StoreLayouts,
    make_manifest_csv as make_manifest_csv,
    get_office_view as get_office_view,
    list_pattern_groups as list_pattern_groups,
    list_store_layouts as list_store_layouts,
    try_patterns as try_patterns,
)
from receiving.service.records import (
    MessageFolder as MessageFolder,
    Written as Written,
    keep_writing as keep_writing,
    write_messages as write_messages,
)
from receiving.service.dispatch_words import (
    name_words as name_words,
)
from receiving.service.notes import (
    add_note as add_note,
    add_notes as add_notes,
    answer_question as answer_question,
    decide_visits as decide_visits,
    resolve_region as resolve_region,
)
from receiving.service.passkey_sign_in import (
    add_passkey as add_passkey,
    offer_passkey_to_add as offer_passkey_to_add,
    offer_passkey_to_use as offer_passkey_to_use,
    remove_passkey as remove_passkey,
    sign_in_by_passkey as sign_in_by_passkey,
)
from receiving.service.signing_in import (
    FIRST_LIFE as FIRST_LIFE,
    make_first_password as make_first_password,
)
from receiving.service.photo_reading import (
    expect_pictures as expect_pictures,
    finish_photos as finish_photos,
    resume_photos as resume_photos,
)
from receiving.service.pools import PHOTO_SIZES_PX as PHOTO_SIZES_PX
from receiving.service.own_account import (
    find_manager_by_pin as find_manager_by_pin,
    set_own_pin as set_own_pin,
)
from receiving.service.planning import (
    Planned as Planned,
    Progress as Progress,
)
from receiving.service.printing import (
    LabelChoice as LabelChoice,
    LabelStock as LabelStock,
    find_carton_with_sscc as find_carton_with_sscc,
    get_label_choice as get_label_choice,
    make_label_png as make_label_png,
    list_label_resolutions as list_label_resolutions,
    list_label_stocks as list_label_stocks,
    make_labels_for_printer as make_labels_for_printer,
    make_labels_pdf as make_labels_pdf,
    make_place_stickers_pdf as make_place_stickers_pdf,
    list_sticker_stocks as list_sticker_stocks,
)
from receiving.service.programme_figures import (
    CALL_DAYS as CALL_DAYS,
    ProgrammeView as ProgrammeView,
    make_call_list_csv as make_call_list_csv,
    import_deliveries as import_deliveries,
    get_programme as get_programme,
    make_programme_csv as make_programme_csv,
    get_programme_view as get_programme_view,
    list_readiness as list_readiness,
    make_readiness_csv as make_readiness_csv,
    list_to_call as list_to_call,
)
from receiving.service.masterdata import (
    LayoutProposal as LayoutProposal,
    get_layout_proposal as get_layout_proposal,
    open_layout as open_layout,
)
from receiving.service.queries import (
    PhoneSheet as PhoneSheet,
    ShipmentView as ShipmentView,
    decide_shipment as decide_shipment,
    get_overview as get_overview,
    make_overview_csv as make_overview_csv,
    make_overview_xlsx as make_overview_xlsx,
    get_phone_sheet as get_phone_sheet,
    get_shipment as get_shipment,
    list_shipments as list_shipments,
    get_version as get_version,
    make_overview_csv_parts as make_overview_csv_parts,
)
from receiving.service.records import (
    MESSAGES as MESSAGES,
    Verdict as Verdict,
    get_record_file as get_record_file,
    rotate_key as rotate_key,
    list_signing_keys as list_signing_keys,
    make_standard_message as make_standard_message,
    verify_against as verify_against,
    verify_file as verify_file,
    verify_shipment as verify_shipment,
)
from receiving.service.replacing import (
    RequestChoice as RequestChoice,
    RequestDraft as RequestDraft,
    Withdrawal as Withdrawal,
    draft_request as draft_request,
    issue_request as issue_request,
    get_request as get_request,
    make_request_csv as make_request_csv,
    make_request_json as make_request_json,
    make_request_pdf as make_request_pdf,
    list_requests as list_requests,
    withdraw_lines as withdraw_lines,
)
from receiving.service.results import (
    make_result_csv as make_result_csv,
    make_result_json as make_result_json,
    make_result_xlsx as make_result_xlsx,
)
from receiving.service.upkeep import (
    Erasure as Erasure,
    Pruning as Pruning,
    erase_account as erase_account,
    erase_name as erase_name,
    prune_photos as prune_photos,
)
from receiving.service.ingest import (
    draw_test_symbols as draw_test_symbols,
)
from receiving.service.own_account import (
    NotFresh as NotFresh,
    OwnAccount as OwnAccount,
    change_own_password as change_own_password,
    end_other_sessions as end_other_sessions,
    get_own_account as get_own_account,
    sign_in_again as sign_in_again,
)
from receiving.service.photo_reading import (
    make_photo_jpeg as make_photo_jpeg,
)
from receiving.service.signing_in import (
    FirstPassword as FirstPassword,
    SignedIn as SignedIn,
    SignInRefused as SignInRefused,
    TooManyTries as TooManyTries,
    find_access_by_name as find_access_by_name,
    find_access as find_access,
    sign_in as sign_in,
    sign_out as sign_out,
)
from receiving.service.snapshot import (
    find_resolved_regions as find_resolved_regions,
)
from receiving.service.results import (
    PlanChange as PlanChange,
    work_out_change_cost as work_out_change_cost,
    make_plan_pdf as make_plan_pdf,
    get_staging_plan as get_staging_plan,
)
from receiving.service.stores import (
    get_shipment_now as get_shipment_now,
    get_store_now as get_store_now,
    find_zone as find_zone,
)
from receiving.service.stores import (
    import_stores as import_stores,
    make_stores_csv as make_stores_csv,
)
from receiving.service.deciding import (
    SwapsView as SwapsView,
    TakenSwap as TakenSwap,
    get_costs as get_costs,
    get_lanes as get_lanes,
    save_costs as save_costs,
    save_lanes as save_lanes,
    get_swap_plan as get_swap_plan,
    get_swaps_view as get_swaps_view,
    take_swaps as take_swaps,
)
from receiving.service.intake import (
    ColumnsToMap as ColumnsToMap,
    Previewed as Previewed,
    apply_mapping as apply_mapping,
    preview_again as preview_again,
    preview_upload as preview_upload,
    take_upload as take_upload,
)
from receiving.service.webhook_sending import (
    EventKind as EventKind,
    WebhooksView as WebhooksView,
    end_webhook as end_webhook,
    keep_sending as keep_sending,
    make_webhook as make_webhook,
    read_networks as read_networks,
    rotate_webhook_secret as rotate_webhook_secret,
    send_delivery_again as send_delivery_again,
    send_due as send_due,
    try_webhook as try_webhook,
    list_webhook_deliveries as list_webhook_deliveries,
    list_webhooks as list_webhooks,
    get_webhooks_view as get_webhooks_view,
)
from receiving.service.intake import (
    LostZeros as LostZeros,
)
from receiving.staging import (
    aisle_before as aisle_before,
)
from receiving.store import (
    DAMAGE_WORDS as DAMAGE_WORDS,
    ApiToken as ApiToken,
    CheckReport as CheckReport,
    Damage as Damage,
    DamageKind as DamageKind,
    Delivery as Delivery,
    Passkey as Passkey,
    PhotoStatus as PhotoStatus,
    RevisionOrigin as RevisionOrigin,
    RevisionRecord as RevisionRecord,
    SessionRecord as SessionRecord,
    SetAside as SetAside,
    Webhook as Webhook,
)
from receiving.service.stored_texts import (
    refuse_hidden_characters as refuse_hidden_characters,
)
